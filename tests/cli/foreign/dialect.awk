# The wide table as another practice would keep it. Variables: sep, dec, quote (1: quote cells with the separator), dates
# (iso dmy mdy mon serial1900 serial1904), mm (a factor for lengths in mm), depth (a factor for the two depths), torque (a
# factor), loss (1: levels as loss), teeth (iso 132), yes, no, female, male, never, former, current (words).
function number(x, factor,   limit, text) {
    if (x == "") return ""
    limit = sub(/^>/, "", x) ? ">" : ""
    text = factor == 1 ? x : sprintf("%.15g", x * factor)
    if (dec == ",") sub(/\./, ",", text)
    return limit text
}
function days(y, m, d,   a) { # day number, 0 = 1970-01-01
    a = int((14 - m) / 12); y = y + 4800 - a; m = m + 12 * a - 3
    return d + int((153 * m + 2) / 5) + 365 * y + int(y / 4) - int(y / 100) + int(y / 400) - 32045 - 2440588
}
function date(x,   p, name) {
    if (x == "" || dates == "iso") return x
    split(x, p, "-")
    split("Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec", name, " ")
    if (dates == "dmy") return p[3] "." p[2] "." p[1]
    if (dates == "dmyslash") return p[3] + 0 "/" p[2] + 0 "/" p[1]
    if (dates == "mdy") return p[2] "/" p[3] "/" p[1]
    if (dates == "mon") return p[3] + 0 " " name[p[2] + 0] " " p[1]
    if (dates == "serial1900") return days(p[1] + 0, p[2] + 0, p[3] + 0) + 25569
    if (dates == "serial1904") return days(p[1] + 0, p[2] + 0, p[3] + 0) + 24107
    return x
}
function tooth(x,   q, t) {
    if (x == "" || teeth == "iso") return x
    q = int(x / 10); t = x % 10
    return q == 1 ? 9 - t : q == 2 ? 8 + t : q == 3 ? 25 - t : 24 + t
}
function word(x) {
    return x == "yes" ? yes : x == "no" ? no : x == "F" ? female : x == "M" ? male : x == "never" ? never : \
        x == "former" ? former : x == "current" ? current : x
}
function cell(x) { return quote && index(x, sep) ? "\"" x "\"" : x }
BEGIN {
    FS = "|"
    if (mm == "") mm = 1
    if (depth == "") depth = 1
    if (torque == "") torque = 1
}
{
    $3 = tooth($3)
    for (i = 5; i <= 6; i++) $i = number($i, mm)
    for (i = 7; i <= 8; i++) $i = number($i, depth)
    $10 = number($10, torque)
    $11 = number($11, mm)
    $9 = word($9); $13 = word($13); $14 = word($14)
    $4 = date($4); $12 = date($12); $24 = date($24)
    for (i = 15; i <= 21; i += 3) {
        $i = date($i)
        $(i + 1) = number($(i + 1), loss ? -1 : 1)
        $(i + 2) = number($(i + 2), loss ? -1 : 1)
    }
    line = cell($1)
    for (i = 2; i <= 24; i++) line = line sep cell($i)
    print line
}
