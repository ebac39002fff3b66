/* Read a page back against its figures: check-page PAGE.html FIGURES.csv. Prints how many numbers agree; exits 1 when
 * one does not, or when a number on the page is no figure. */
#include "../unit/support/page_check.h"

#include <stdlib.h>

static char *read_file(const char *path)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        return NULL;
    size_t length = 0, capacity = 1 << 16;
    char *text = malloc(capacity);
    for (size_t got = 1; text != NULL && got > 0; length += got) {
        if (capacity - length < 2) {
            char *larger = realloc(text, capacity *= 2);
            if (larger == NULL)
                free(text);
            text = larger;
        }
        got = text == NULL ? 0 : fread(text + length, 1, capacity - length - 1, file);
    }
    if (text != NULL)
        text[length] = '\0';
    fclose(file);
    return text;
}

int main(int argc, char **argv)
{
    char *page = argc == 3 ? read_file(argv[1]) : NULL;
    char *figures = argc == 3 ? read_file(argv[2]) : NULL;
    struct page_report report = {.stream = stdout};
    if (page == NULL || figures == NULL) {
        fputs("usage: check-page PAGE.html FIGURES.csv\n", stderr);
        free(page);
        free(figures);
        return 2;
    }
    check_page(page, figures, &report);
    printf("numbers: %ld, faults: %ld\n", report.numbers, report.faults);
    free(page);
    free(figures);
    return report.faults > 0 || report.numbers == 0;
}
