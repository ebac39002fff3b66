# Compare one case. Variables: id, tolerance (a number, or "print": half a unit of the last digit printed), least (a
# relative error that never fails: 0 unless the arithmetic is known to be coarser), differs (lines
# "quantity~group difference"). Files in order: the names map, our rows (label in front), the expected rows.
# Writes one line "id TAB values TAB failures TAB worst error TAB where" for the table, details of failures to stderr.

function cells(line, out,    n, i, c, quoted, cell) {
    n = 0; cell = ""; quoted = 0
    for (i = 1; i <= length(line); i++) {
        c = substr(line, i, 1)
        if (quoted) {
            if (c != "\"") cell = cell c
            else if (substr(line, i + 1, 1) == "\"") { cell = cell c; i++ }
            else quoted = 0
        } else if (c == "\"") quoted = 1
        else if (c == ",") { out[++n] = cell; cell = "" }
        else if (c != "\r") cell = cell c
    }
    out[++n] = cell
    return n
}

# Match text with a pattern in which %1..%9 stand for any stretch (the shortest that fits); captures land in found[].
function fits(text, pattern,    at, name, rest, next_at, literal, end) {
    while (1) {
        at = match(pattern, /%[1-9]/)
        if (at == 0) return text == pattern
        literal = substr(pattern, 1, at - 1)
        if (substr(text, 1, length(literal)) != literal) return 0
        text = substr(text, length(literal) + 1)
        name = substr(pattern, at + 1, 1)
        pattern = substr(pattern, at + 2)
        next_at = match(pattern, /%[1-9]/)
        literal = next_at == 0 ? pattern : substr(pattern, 1, next_at - 1)
        if (next_at == 0) {
            end = length(text) - length(literal)
            if (end < 1 || substr(text, end + 1) != literal) return 0
            found[name] = substr(text, 1, end)
            return 1
        }
        end = index(text, literal)
        if (end < 2) return 0
        found[name] = substr(text, 1, end - 1)
        text = substr(text, end)
    }
}

function fill(template,    k) {
    for (k = 1; k <= 9; k++)
        if (k in found) gsub("%" k, found[k], template)
    return template
}

function key(label, quantity, group, at) {
    return label "~" quantity "~" group "~" (at == "" ? "" : sprintf("%.10g", at + 0))
}

# Half a unit of the last digit of a number as printed, with a hair for binary noise.
function half_unit(text,    mantissa, power, digits) {
    power = 0
    mantissa = text
    if (match(text, /[eE]/)) { power = substr(text, RSTART + 1) + 0; mantissa = substr(text, 1, RSTART - 1) }
    digits = index(mantissa, ".") == 0 ? 0 : length(mantissa) - index(mantissa, ".")
    return 0.5 * 10 ^ (power - digits) * (1 + 1e-9)
}

function absolute(x) { return (x < 0 ? -x : x) + 0 }

function complain(what) {
    failures++
    print id ": " what > "/dev/stderr"
}

BEGIN {
    n = split(differs, lines, "\n")
    for (i = 1; i <= n; i++) {
        at = match(lines[i], / [^ ]*$/)
        if (at > 0) stated[substr(lines[i], 1, at - 1)] = substr(lines[i], at + 1)
    }
}

FNR == 1 { file++; next } # a header in each
$0 == "" { next }

file == 1 {
    cells($0, cell)
    rules++
    from_quantity[rules] = cell[1]; from_group[rules] = cell[2]; to_label[rules] = cell[3]
    to_quantity[rules] = cell[4]; to_group[rules] = cell[5]; to_at[rules] = cell[6]; own[rules] = cell[7]
    next
}

file == 2 {
    cells($0, cell)
    k = key(cell[1], cell[2], cell[3], cell[4])
    if (k in ours) complain("two rows of ours have the key " k)
    ours[k] = cell[5]
    next
}

file == 3 {
    cells($0, cell)
    quantity = cell[2]; group = cell[3]; text = cell[4]
    split("", found)
    rule = 0
    for (i = 1; i <= rules && rule == 0; i++)
        if (fits(quantity, from_quantity[i]) && fits(group, from_group[i])) rule = i
    if (rule == 0) { complain("no name for " quantity "~" group); next }
    if (to_quantity[rule] == "") { left_out++; next }
    k = key(fill(to_label[rule]), fill(to_quantity[rule]), fill(to_group[rule]), fill(to_at[rule]))
    values++
    if (!(k in ours)) { complain(quantity "~" group ": we have no row " k); next }
    mine = ours[k]
    if (text == "NA" || text == "") {
        if (mine != "") complain(quantity "~" group ": expected undefined, ours " mine)
        next
    }
    if (mine == "") { complain(quantity "~" group ": expected " text ", ours undefined"); next }
    difference = mine - text
    name = quantity "~" group
    if (name in stated) {
        contradictions++
        said[name] = 1
        if (absolute(difference - stated[name]) > half_unit(stated[name]))
            complain(name ": ours minus print is " sprintf("%.6g", difference) ", stated " stated[name])
        printf "  %-22s %-34s print %s, ours %.8g, differs by %s as stated\n", id, name, text, mine, stated[name]
        next
    }
    allowed = own[rule] != "" ? own[rule] : tolerance
    error = text + 0 == 0 ? absolute(difference) : absolute(difference / text)
    if (allowed == "print")
        bad = absolute(difference) > half_unit(text)
    else if (allowed ~ /^absolute /)
        bad = absolute(difference) > substr(allowed, 10) + 0
    else
        bad = error > (text + 0 == 0 ? 1e-12 : allowed + 0) && error > least
    if (bad && quantity ~ /(^|_)p($|_)/ && absolute(text) < 1e-10 && absolute(difference) < 1e-12) { bad = 0; error = 0 }
    if (bad) complain(name ": expected " text ", ours " mine ", relative error " sprintf("%.3g", error))
    if (error >= worst) { worst = error; where = name }
}

END {
    if (file < 3 || values == 0) complain("nothing was compared")
    for (name in stated)
        if (!(name in said)) complain("the difference stated for " name " was not met with")
    printf "=%s\t%d\t%d\t%d\t%.3g\t%s\n", id, values, failures, left_out, worst, where
}
