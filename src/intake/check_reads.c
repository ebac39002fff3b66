/*
 * Which tables a query of sql/checks/ reads, told by its text: the names after FROM and JOIN. Preparing each query and asking
 * SQLite costs more than running the checks over a small practice; a unit test holds the two answers together.
 */
#include "check_run.h"

#include <ctype.h>
#include <string.h>

/* A piece of SQL: a name, a key word, or one other character. */
struct token {
    const char *begin;
    size_t length;
};

static bool begins_name(char character)
{
    return isalpha((unsigned char)character) || character == '_';
}

/* The next token; texts in quotes are one, and comments none. */
static bool next_token(const char **at, const char *end, struct token *token)
{
    const char *here = *at;
    while (here < end && (isspace((unsigned char)*here) || (end - here >= 2 && memcmp(here, "--", 2) == 0)))
        if (*here == '-')
            here += strcspn(here, "\n");
        else
            here++;
    if (here >= end)
        return false;
    token->begin = here++;
    if (*token->begin == '\'')
        while (here < end && *here++ != '\'')
            ;
    else if (begins_name(*token->begin))
        while (here < end && (begins_name(*here) || isdigit((unsigned char)*here)))
            here++;
    token->length = (size_t)(here - token->begin);
    *at = here;
    return true;
}

static bool is(const struct token *token, const char *word)
{
    return token->length == strlen(word) && memcmp(token->begin, word, token->length) == 0;
}

static bool same(const struct token *one, const struct token *other)
{
    return one->length == other->length && memcmp(one->begin, other->begin, one->length) == 0;
}

/* Whether the query itself makes what the name stands for: `name AS (SELECT` or `name AS MATERIALIZED (SELECT`. */
static bool is_made(const struct token *name, const char *at, const char *end)
{
    struct token before = {"", 0}, token;
    bool named = false;
    while (next_token(&at, end, &token)) {
        if (named && (is(&token, "(") || is(&token, "MATERIALIZED")))
            return true;
        named = same(&before, name) && is(&token, "AS");
        before = token;
    }
    return false;
}

/* What a check found stands while the tables it reads do. Batches change with their records only; anything else (a house
 * rule) is changed outside a load. */
static unsigned bits_of(const struct token *name, const char *begin, const char *end)
{
    static const struct {
        const char *name;
        unsigned bits;
    } known[] = {{"patient", RT_TOUCHED_PATIENTS}, {"implant", RT_TOUCHED_IMPLANTS},
                 {"reading", RT_TOUCHED_READINGS}, {"event", RT_TOUCHED_EVENTS},
                 {"spread", RT_TOUCHED_READINGS},  {"batch", 0}};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (is(name, known[i].name))
            return known[i].bits;
    return is_made(name, begin, end) ? 0 : RT_TOUCHED_ALL;
}

unsigned check_reads(const char *sql, size_t length)
{
    const char *at = sql, *end = sql + length;
    struct token token;
    unsigned reads = 0;
    while (next_token(&at, end, &token)) {
        if (!is(&token, "FROM") && !is(&token, "JOIN"))
            continue;
        if (!next_token(&at, end, &token) || !begins_name(*token.begin))
            continue; /* a query in brackets, which says itself what it reads */
        struct token name = token;
        const char *after = at;
        if (next_token(&after, end, &token) && is(&token, ".") && next_token(&after, end, &token)) {
            name = token; /* temp.spread */
            at = after;
        }
        reads |= bits_of(&name, sql, end);
    }
    return reads;
}
