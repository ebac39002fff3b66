/* What the name of a column, or one of its cells, looks like: the marks of people that have no place in an audit. */
#include "loader.h"

#include "ridgetally/base/date.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

/* Words of column names in English, German, Dutch, French, Italian and Spanish, folded. A phrase that begins with = is the
 * whole name; others stand anywhere in it. */
static const struct {
    enum looks looks;
    const char *phrases;
} names[] = {
    {LOOKS_MAIL, "email|e mail|mail|mail address|courriel|correo electronico|posta elettronica"},
    {LOOKS_BIRTH,
     "date of birth|birth date|birthdate|birthday|dob|born|geburtsdatum|geburtstag|geboren|geb datum|geb dat|"
     "geboortedatum|date naissance|date de naissance|data di nascita|data nascita|fecha de nacimiento|fecha "
     "nacimiento"},
    {LOOKS_NUMBER,
     "ssn|social security|insurance|insurance no|insurance number|national id|national number|id card|"
     "passport|versicherung|versicherungsnummer|versichertennummer|krankenkasse|krankenversicherung|"
     "sozialversicherung|svnr|personalausweis|reisepass|bsn|burgerservicenummer|verzekering|"
     "verzekeringsnummer|securite sociale|numero de securite sociale|mutuelle|codice fiscale|tessera "
     "sanitaria|dni|seguridad social|seguro"},
    {LOOKS_PHONE,
     "phone|phone number|telephone|tel|tel nr|mobile phone|mobile number|cell phone|handy|handynummer|"
     "telefon|telefonnummer|mobilnummer|telefoon|telefoonnummer|gsm|telefono|cellulare|movil"},
    {LOOKS_ADDRESS,
     "address|street|zip|zip code|postcode|post code|postal code|city|town|adresse|anschrift|strasse|plz|"
     "postleitzahl|wohnort|adres|straat|woonplaats|rue|ville|code postal|indirizzo|citta|codice postale|"
     "direccion|calle|ciudad|codigo postal"},
    {LOOKS_NAME,
     "surname|last name|lastname|first name|firstname|given name|family name|forename|full name|=name|=names|"
     "patient name|name of patient|patients name|=name patient|nachname|vorname|familienname|"
     "patientenname|name des patienten|achternaam|voornaam|=naam|naam patient|=nom|=prenom|nom patient|nom "
     "du "
     "patient|nom de famille|prenom|cognome|=nome|nome paziente|apellido|apellidos|=nombre|nombre paciente"},
};

static bool phrase_stands_in(const char *phrase, size_t length, const char *folded)
{
    if (phrase[0] == '=')
        return strlen(folded) == length - 1 && strncmp(folded, phrase + 1, length - 1) == 0;
    for (const char *at = folded; *at != '\0'; at++) {
        bool starts = at == folded || at[-1] == ' ';
        if (starts && strncmp(at, phrase, length) == 0 && (at[length] == '\0' || at[length] == ' '))
            return true;
    }
    return false;
}

enum looks header_looks_like(const char *header)
{
    char folded[160];
    char single[160];
    size_t length = 0;
    fold_text(header, folded, sizeof folded);
    for (const char *at = folded; *at != '\0'; at++) /* one space between words, none around */
        if (*at != ' ' || (length > 0 && single[length - 1] != ' '))
            single[length++] = *at;
    while (length > 0 && single[length - 1] == ' ')
        length--;
    single[length] = '\0';
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        for (const char *phrase = names[i].phrases; *phrase != '\0';) {
            size_t size = strcspn(phrase, "|");
            if (phrase_stands_in(phrase, size, single))
                return names[i].looks;
            phrase += size + (phrase[size] == '|');
        }
    }
    return LOOKS_PLAIN;
}

/* --- cells ---------------------------------------------------------------------------------------------- */

/* Whether a cell has a shape: A a letter, 9 a digit, other characters themselves; spaces in the cell do not count. */
static bool has_shape(const char *cell, const char *shape)
{
    for (; *cell != '\0'; cell++) {
        unsigned char c = (unsigned char)*cell;
        if (c == ' ')
            continue;
        bool same = *shape == 'A'   ? isalpha(c) != 0
                    : *shape == '9' ? isdigit(c) != 0
                                    : c == (unsigned char)*shape;
        if (!same)
            return false;
        shape++;
    }
    return *shape == '\0';
}

/* Shapes of national and insurance numbers (from memory): three, two and four digits; thirteen digits in groups; a letter
 * and nine digits; two letters, six digits and a letter; sixteen letters and digits of a tax code. */
static bool is_personal_number(const char *cell)
{
    static const char *const shapes[] = {"999-99-9999", "999.9999.9999.99", "A999999999", "AA999999A",
                                         "AAAAAA99A99A999A"};
    for (size_t i = 0; i < sizeof shapes / sizeof shapes[0]; i++)
        if (has_shape(cell, shapes[i]))
            return true;
    return false;
}

static bool is_mail(const char *cell)
{
    const char *at = strchr(cell, '@');
    return at != NULL && at > cell && !isspace((unsigned char)at[-1]) && strchr(at + 1, '.') > at + 1;
}

/* A date has a year of four digits, and two marks between its parts. */
static bool may_be_date(const char *cell)
{
    size_t marks = 0;
    size_t run = 0;
    bool year = false;
    for (const char *at = cell; *at != '\0'; at++) {
        bool digit = *at >= '0' && *at <= '9';
        run = digit ? run + 1 : 0;
        year = year || run == 4;
        marks += !digit && strchr("./-, ", *at) != NULL;
    }
    return year && marks >= 2;
}

bool cell_is_full_date(const char *cell, int *year)
{
    const char *reason, *remedy;
    if (!may_be_date(cell))
        return false;
    int day = rt_read_date(cell, RT_DATES_DAY_FIRST, &reason, &remedy);
    if (day == RT_NO_DATE)
        day = rt_read_date(cell, RT_DATES_MONTH_FIRST, &reason, &remedy);
    if (day != RT_NO_DATE && year != NULL)
        *year = rt_civil_date(day).year;
    return day != RT_NO_DATE;
}

/* Digits with what people put between them, begun with +, 0 or a bracket as numbers to dial are. */
static bool is_phone(const char *cell)
{
    size_t digits = 0;
    size_t marks = 0;
    if (cell[0] != '+' && cell[0] != '0' && cell[0] != '(')
        return false;
    for (const char *at = cell; *at != '\0'; at++) {
        if (isdigit((unsigned char)*at))
            digits++;
        else if (strchr(" +-/().", *at) != NULL)
            marks++;
        else
            return false;
    }
    return digits >= 7 && digits <= 15 && (marks > 0 || digits >= 9) && !cell_is_full_date(cell, NULL);
}

static bool is_address(const char *cell)
{
    static const char *const words[] = {"street", "road",   "avenue", "lane", "strasse", "weg",
                                        "gasse",  "platz",  "rue",    "via",  "piazza",  "calle",
                                        "plaza",  "straat", "laan",   "plein"};
    char folded[160];
    if (strpbrk(cell, "0123456789") == NULL || strpbrk(cell, " ") == NULL)
        return false;
    fold_text(cell, folded, sizeof folded);
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        size_t length = strlen(words[i]);
        for (const char *at = strstr(folded, words[i]); at != NULL; at = strstr(at + 1, words[i])) {
            bool begins = at == folded || at[-1] == ' ';
            bool ends = at[length] == ' ' || at[length] == '\0';
            if (ends && (begins || length >= 5)) /* Hauptstrasse 5 */
                return true;
        }
    }
    return false;
}

/* Two to four words, all begun with a capital: Anna Example; Example, Anna; A. Example. */
static bool is_name(const char *cell)
{
    size_t words = 0;
    size_t letters = 0;
    for (const char *at = cell; *at != '\0';) {
        at += strspn(at, " ,.");
        if (*at == '\0')
            break;
        unsigned char first = (unsigned char)*at;
        size_t length = strcspn(at, " ,.");
        if (!isupper(first) && first < 0x80)
            return false;
        for (size_t i = 0; i < length; i++) {
            unsigned char c = (unsigned char)at[i];
            if (!isalpha(c) && c < 0x80 && c != '-' && c != '\'')
                return false;
        }
        letters = length > letters ? length : letters;
        words++;
        at += length;
    }
    return words >= 2 && words <= 4 && letters >= 3;
}

enum looks cell_looks_like(const char *cell)
{
    enum { OLD = 1990 }; /* a date before it is hardly one of a treatment */
    int year = OLD;
    size_t length = strlen(cell);
    if (length < 5 || length > 120)
        return LOOKS_PLAIN;
    if (is_mail(cell))
        return LOOKS_MAIL;
    if (is_personal_number(cell))
        return LOOKS_NUMBER;
    if (length <= 20 && cell_is_full_date(cell, &year) && year >= 1900 && year < OLD)
        return LOOKS_BIRTH;
    if (is_phone(cell))
        return LOOKS_PHONE;
    if (is_address(cell))
        return LOOKS_ADDRESS;
    return is_name(cell) ? LOOKS_NAME : LOOKS_PLAIN;
}

/* --- free text ------------------------------------------------------------------------------------------ */

bool is_short_code(const char *cell)
{
    enum { LONGEST_CODE = 24, MOST_DIGITS = 4 };
    size_t digits = 0;
    size_t length = 0;
    cell += strspn(cell, " \t");
    for (; cell[length] != '\0' && cell[length] != ' ' && cell[length] != '\t'; length++) {
        unsigned char c = (unsigned char)cell[length];
        digits += isdigit(c) != 0;
        if (!isalnum(c) && c < 0x80 && strchr("-_./+", c) == NULL)
            return false;
    }
    return length <= LONGEST_CODE && digits <= MOST_DIGITS &&
           cell[length + strspn(cell + length, " \t")] == '\0';
}
