#include "ridgetally/cli/load_options.h"

#include "ridgetally/cli/key.h"

void rt_load_option_table(struct rt_load_choices *choices, struct rt_option options[RT_LOAD_OPTIONS])
{
    const struct rt_option table[RT_LOAD_OPTIONS] = {
        {"--kind", RT_OPTION_TEXT, &choices->kind},
        {"--whole", RT_OPTION_FLAG, &choices->load.whole},
        {"--map", RT_OPTION_TEXT, &choices->load.map_path},
        {"--pseudonym", RT_OPTION_FLAG, &choices->pseudonym},
        {"--key", RT_OPTION_TEXT, &choices->key_path},
        {"--text", RT_OPTION_FLAG, &choices->load.free_text},
        {"--sheet", RT_OPTION_TEXT, &choices->written.sheet},
        {"--encoding", RT_OPTION_TEXT, &choices->written.encoding},
        {"--separator", RT_OPTION_TEXT, &choices->written.separator},
        {"--decimal", RT_OPTION_TEXT, &choices->written.decimal},
        {"--header-line", RT_OPTION_INTEGER, &choices->written.header_line}};
    for (size_t i = 0; i < RT_LOAD_OPTIONS; i++)
        options[i] = table[i];
}

enum rt_status rt_read_load_choices(const char *verb, struct rt_load_choices *choices, struct rt_error *error)
{
    struct rt_load_options *load = &choices->load;
    if (choices->kind != NULL) {
        load->kind_given = rt_find_kind(choices->kind, &load->kind);
        if (!load->kind_given)
            return rt_fail_word(verb, "--kind", "implants, followups or events", choices->kind, error);
    }
    return rt_read_written(verb, &choices->written, &load->dialect, error);
}

enum rt_status rt_choose_load_key(struct rt_store *store, struct rt_load_choices *choices,
                                  struct rt_error *error)
{
    bool needed = false;
    enum rt_status status =
        rt_choose_key(store, choices->pseudonym, choices->key_path, &choices->key, &needed, error);
    choices->load.key = status == RT_OK && needed ? &choices->key : NULL;
    return status;
}
