/* Memory that runs out at every moment of planning and rendering a page: each failed allocation must end in RT_MEMORY
 * with words, and nothing may leak or crash. Our own allocations are wrapped by the linker. */
#include "ridgetally/output/audit.h"
#include "ridgetally/page/page.h"

#include "../unit/support/hand_made_audit.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *block, size_t size);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *block, size_t size);

static long until_failure = -1; /* allocations still granted; negative = all */
static long asked;

static bool grants(void)
{
    asked++;
    return until_failure < 0 || until_failure-- > 0;
}

void *__wrap_malloc(size_t size)
{
    return grants() ? __real_malloc(size) : NULL;
}

void *__wrap_calloc(size_t count, size_t size)
{
    return grants() ? __real_calloc(count, size) : NULL;
}

void *__wrap_realloc(void *block, size_t size)
{
    return grants() ? __real_realloc(block, size) : NULL;
}

static enum rt_status make_page(const struct rt_audit_subject *subject, struct rt_text *html,
                                struct rt_error *error)
{
    struct rt_document document = {0};
    enum rt_status status = rt_plan_audit(subject, &document, error);
    if (status == RT_OK)
        status = rt_render_page(&document, NULL, html, error);
    rt_release_document(&document);
    return status;
}

static void running_out_of_memory_is_said(void **state)
{
    (void)state;
    struct rt_figure_list figures = {0};
    struct rt_audit_info info;
    struct rt_text whole = {0};
    hand_made_audit(&figures, &info);
    const struct rt_audit_subject subject = {&info, "", &figures, NULL, NULL, NULL};
    asked = 0;
    assert_int_equal(make_page(&subject, &whole, NULL), RT_OK);
    const long all = asked;
    assert_true(all > 100);
    for (long granted = 0; granted < all; granted += granted < 200 ? 1 : 37) {
        struct rt_error error = {0};
        struct rt_text html = {0};
        until_failure = granted;
        enum rt_status status = make_page(&subject, &html, &error);
        until_failure = -1;
        rt_text_release(&html);
        if (status != RT_MEMORY || strcmp(error.message, "out of memory") != 0)
            fail_msg("after %ld allocations: status %d, \"%s\"", granted, (int)status, error.message);
    }
    rt_text_release(&whole);
    rt_release_figures(&figures);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(running_out_of_memory_is_said)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
