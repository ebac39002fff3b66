#include "ridgetally/cli/verb.h"

#include "ridgetally/base/file.h"
#include "ridgetally/base/interrupt.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/cli/fit.h"
#include "ridgetally/cli/next.h"

#include <gsl/gsl_errno.h>
#include <signal.h>
#include <string.h>

static const struct rt_verb *find_verb(const char *name)
{
    size_t count = 0;
    const struct rt_verb *verbs = rt_verbs(&count);
    for (size_t i = 0; i < count; i++)
        if (strcmp(verbs[i].name, name) == 0)
            return &verbs[i];
    return NULL;
}

static enum rt_status print_verbs(struct rt_error *error)
{
    size_t count = 0;
    const struct rt_verb *verbs = rt_verbs(&count);
    struct rt_text text = {0};
    rt_text_add(&text, "ridgetally " RT_VERSION ": outcome audit of one implant practice's own records.\n\n"
                       "Usage: ridgetally VERB [options]\n"
                       "       ridgetally VERB --help\n\n");
    for (size_t i = 0; i < count; i++)
        rt_text_format(&text, "  %-10s %s\n", verbs[i].name, verbs[i].summary);
    return rt_print_help(&text, error);
}

static enum rt_status print_help(const struct rt_verb *verb, struct rt_error *error)
{
    struct rt_text text = {0};
    rt_text_format(&text, "ridgetally %s: %s\n\n%s", verb->name, verb->summary, verb->help);
    return rt_print_help(&text, error);
}

static enum rt_status run(int argc, char **argv, struct rt_error *error)
{
    if (argc < 2)
        return rt_say_next(error);
    if (strcmp(argv[1], "--help") == 0)
        return print_verbs(error);
    if (strcmp(argv[1], "--version") == 0) {
        puts("ridgetally " RT_VERSION);
        return rt_write_stream(stdout, "", 0, error);
    }
    const struct rt_verb *verb = find_verb(argv[1]);
    if (verb == NULL) {
        rt_fail(error, RT_USE, "there is no verb '%s'", argv[1]);
        rt_error_remedy(error, "`ridgetally --help` lists the verbs");
        return RT_USE;
    }
    for (int i = 2; i < argc; i++) {
        if (verb->help != NULL && strcmp(argv[i], "--help") == 0) {
            return print_help(verb, error);
        }
    }
    return verb->run(argc - 1, argv + 1, error);
}

int rt_main(int argc, char **argv)
{
    struct rt_error error = {0};
    rt_keep_freed_memory();
    gsl_set_error_handler_off(); /* GSL's own handler aborts; we check its return codes */
    signal(SIGPIPE, SIG_IGN);    /* a closed pipe is a failed write, exit 4 */
    signal(SIGXFSZ, SIG_IGN);    /* so is a file larger than its user may write */
    enum rt_status status = run(argc, argv, &error);
    if (error.status != RT_OK)
        rt_error_print(&error, stderr);
    if (status == RT_INTERRUPTED)
        rt_end_by_interrupt();
    return rt_exit_code(status);
}
