#include "ridgetally/cli/key.h"

#include <stdio.h>
#include <stdlib.h>

static enum rt_status fail_use(const char *words, const char *remedy, struct rt_error *error)
{
    rt_fail(error, RT_USE, "%s", words);
    rt_error_remedy(error, "%s", remedy);
    return RT_USE;
}

enum rt_status rt_choose_key(struct rt_store *store, bool pseudonym, const char *option,
                             struct rt_pseudonym_key *key, bool *needed, struct rt_error *error)
{
    bool holds = false;
    bool made = false;
    const char *path = option != NULL ? option : getenv("RIDGETALLY_KEY");
    enum rt_status status = rt_holds_pseudonyms(store, &holds, error);
    *needed = status == RT_OK && (pseudonym || holds);
    if (status == RT_OK && !*needed && option != NULL)
        return fail_use("the patients of this store stand under the labels of the sheets", "leave --key out",
                        error);
    if (status != RT_OK || !*needed)
        return status;
    if (path == NULL || *path == '\0')
        return fail_use("no key is named for the codes of patients",
                        "name its file with --key FILE or RIDGETALLY_KEY", error);
    status = rt_read_pseudonym_key(path, !holds, key, &made, error);
    if (status == RT_OK && made)
        fprintf(stderr,
                "ridgetally: %s is the new key: keep it and a copy apart from the store; whoever has both "
                "can tell "
                "the patients, and without it no sheet can be loaded into this store again\n",
                path);
    return status;
}
