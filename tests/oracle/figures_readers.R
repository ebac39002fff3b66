# Section `readers` of the audit against R, from the base tables: films, re-readings and pairs of readers are gathered again here;
# analysis of variance by aov, the mean difference by clubSandwich, every jackknife by leaving out one patient's rows and
# computing again.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
suppressPackageStartupMessages(library(clubSandwich))

least_patients <- 10
read_sql <- function(store, sql) {
    rows <- suppressWarnings(system2("sqlite3", c("-csv", "-header", store, shQuote(sql)), stdout = TRUE))
    if (length(rows) == 0) return(NULL)
    read.csv(text = rows, na.strings = "", check.names = FALSE, colClasses = "character")
}
day <- function(text) as.integer(as.Date(text))

# All readings of both sites of readable films, in the order of names.
readings <- function(store, last) {
    reading <- read_sql(store, "select * from reading")
    implant <- read_sql(store, "select id, patient_id from implant")
    r <- data.frame(implant = as.integer(reading$implant_id), seen = as.integer(reading$seen_on),
                    film = ifelse(is.na(reading$film), "", reading$film), reader = ifelse(is.na(reading$reader), "", reading$reader),
                    reading = as.integer(reading$reading), kind = reading$level_kind,
                    level = (as.numeric(reading$level_mesial_mm) + as.numeric(reading$level_distal_mm)) / 2,
                    readable = is.na(reading$readable) | reading$readable == "1")
    r$patient <- as.integer(implant$patient_id)[match(r$implant, as.integer(implant$id))]
    r <- r[r$readable & !is.na(r$level) & r$seen <= last, ]
    r$exposure <- paste(r$implant, r$seen, r$film, sep = "\r")
    r[order(r$patient, r$implant, r$seen, r$film, r$reader, r$reading), ]
}

# --- statistics --------------------------------------------------------------------------------------------
leave_out <- function(patient, statistic) {
    unname(sapply(unique(patient), function(p) statistic(patient != p)))
}
jackknife_error <- function(r) if (length(r) < 2) NA else sqrt((length(r) - 1) / length(r) * sum((r - mean(r))^2))

anova_of <- function(level, subject) {
    subject <- factor(subject)
    if (nlevels(subject) < 2 || length(level) == nlevels(subject)) return(NULL)
    table <- summary(aov(level ~ subject))[[1]]
    m <- as.numeric(table(subject))
    list(between = table[1, "Mean Sq"], within = table[2, "Mean Sq"], df = table[2, "Df"],
         k0 = (length(level) - sum(m^2) / length(level)) / (nlevels(subject) - 1))
}

within_sd <- function(level, subject) {
    ss <- sum((level - ave(level, subject))^2)
    sqrt(ss / (length(level) - length(unique(subject))))
}

positive <- function(value, replicates) {
    error <- jackknife_error(replicates)
    factor <- exp(qt(0.975, length(replicates) - 1) * error / value)
    list(value = value, lower = value / factor, upper = value * factor)
}

bounded <- function(value, replicates) {
    half <- qt(0.975, length(replicates) - 1) * jackknife_error(replicates) / (1 - value^2)
    list(value = value, lower = tanh(atanh(value) - half), upper = tanh(atanh(value) + half))
}

icc_one_way <- function(level, subject) {
    a <- anova_of(level, subject)
    if (is.null(a)) NA else (a$between - a$within) / (a$between + (a$k0 - 1) * a$within)
}

icc_two_way <- function(first, second) {
    n <- length(first)
    level <- c(first, second)
    table <- summary(aov(level ~ factor(rep(seq_len(n), 2)) + factor(rep(1:2, each = n))))[[1]]
    b <- table[1, "Mean Sq"]; j <- table[2, "Mean Sq"]; e <- table[3, "Mean Sq"]
    (b - e) / (b + e + 2 * (j - e) / n)
}

# Bland and Altman (1999), section 5.3; limits joined from those of bias and sd (Zou 2013) with their jackknife correlation.
spread_of <- function(d, patient) {
    n <- length(d); g <- as.character(patient); m <- table(g); k <- length(m)
    if (k < 2) return(NA)
    means <- tapply(d, g, mean)
    between <- sum(m * (means[names(m)] - mean(d))^2) / (k - 1)
    if (n == k) return(sqrt(between))
    within <- sum((d - means[g])^2) / (n - k)
    sqrt(max(0, (between - within) / ((n - sum(m^2) / n) / (k - 1))) + within)
}

agreement <- function(d, patient) {
    fit <- lm(d ~ 1)
    test <- coef_test(fit, vcovCR(fit, patient, type = "CR2"), test = "Satterthwaite")
    half <- qt(0.975, test$df[1]) * test$SE[1]
    if (half < 1e-12) half <- NA                              # no error to be seen: no limits
    bias <- list(value = mean(d), lower = mean(d) - half, upper = mean(d) + half, p = 2 * pt(-abs(mean(d) / test$SE[1]), test$df[1]))
    biases <- leave_out(patient, function(keep) mean(d[keep]))
    sds <- leave_out(patient, function(keep) spread_of(d[keep], patient[keep]))
    sd <- positive(spread_of(d, patient), sds)
    r <- suppressWarnings(cor(biases, sds))
    k <- 1.96
    side <- function(sign) {
        value <- bias$value + sign * k * sd$value
        join <- function(b, s, r) sqrt(max(0, b^2 + k^2 * s^2 - 2 * r * k * b * s))
        bl <- bias$value - bias$lower; bu <- bias$upper - bias$value
        sl <- sd$value - sd$lower; su <- sd$upper - sd$value
        if (sign < 0) list(value = value, lower = value - join(bl, su, r), upper = value + join(bu, sl, r))
        else list(value = value, lower = value - join(bl, sl, -r), upper = value + join(bu, su, -r))
    }
    list(bias = bias, lower = side(-1), upper = side(1))
}

# --- expected rows -------------------------------------------------------------------------------------------
rows <- list()
want <- function(measure, grouping, level, estimate, patients = Inf, at = NA, fields = c("value", "lower", "upper")) {
    for (field in fields) {
        value <- if (patients < least_patients) NA_real_ else if (is.null(estimate[[field]])) NA_real_ else estimate[[field]]
        rows[[length(rows) + 1]] <<- expect(paste(measure, field), paste(grouping, level), at, value, scale = 1e-3)
    }
}
count <- function(measure, grouping, level, films, x, at = NA) {
    want(measure, grouping, level, list(value = films, n = length(unique(x$implant)), patients = length(unique(x$patient))), at = at,
         fields = c("value", "n", "patients"))
}
times <- function(estimate, factor) lapply(estimate[c("value", "lower", "upper")], `*`, factor)

error_rows <- function(name, grouping, level, x, subject, patients) {
    if (length(unique(subject)) == 0) return(invisible())
    replicates <- leave_out(x$patient, function(keep) within_sd(x$level[keep], subject[keep]))
    e <- positive(within_sd(x$level, subject), replicates)
    want(paste0(name, "_error"), grouping, level, e, patients)
    want(paste0(name, "_detectable"), grouping, level, times(e, 1.96 * sqrt(2)), patients)
}

expect_within <- function(r, grouping, level) {
    subject <- paste(r$exposure, r$reader, sep = "\r")
    x <- r[ave(rep(1, nrow(r)), subject, FUN = sum) > 1, ]
    subject <- paste(x$exposure, x$reader, sep = "\r")
    order_in <- ave(seq_along(subject), subject, FUN = seq_along)
    first <- x[order_in == 1, ]; second <- x[order_in == 2, ]
    if (nrow(first) == 0 && grouping != "") return(invisible())
    count("films_reread", grouping, level, nrow(first), x)
    patients <- length(unique(x$patient))
    if (patients < least_patients) {
        for (m in c("reread_bias", "reread_limit_lower", "reread_limit_upper", "reread_error", "reread_dahlberg"))
            want(m, grouping, level, list(), patients)
        return(invisible())
    }
    d <- second$level[match(paste(first$exposure, first$reader), paste(second$exposure, second$reader))] - first$level
    a <- agreement(d, first$patient)
    want("reread_bias", grouping, level, a$bias, fields = c("value", "lower", "upper", if (grouping == "") "p"))
    want("reread_limit_lower", grouping, level, a$lower)
    want("reread_limit_upper", grouping, level, a$upper)
    error_rows("reread", grouping, level, x, subject, patients)
    twice <- all(table(subject) == 2)
    want("reread_dahlberg", grouping, level, list(value = if (twice) sqrt(sum(d^2) / (2 * length(d)))), patients)
    want("reread_icc", grouping, level,
         bounded(icc_one_way(x$level, subject), leave_out(x$patient, function(keep) icc_one_way(x$level[keep], subject[keep]))), patients)
}

expect_between <- function(r) {
    f <- r[r$reader != "", ]
    f <- f[!duplicated(paste(f$exposure, f$reader, sep = "\r")), ]          # the first reading of each reader
    f <- f[f$kind == f$kind[match(f$exposure, f$exposure)], ]               # of the kind of the first reader
    f <- f[ave(rep(1, nrow(f)), f$exposure, FUN = sum) > 1, ]
    patients <- length(unique(f$patient))
    count("films_two_readers", "", "", length(unique(f$exposure)), f)
    if (nrow(f) > 0) {
        error_rows("between", "", "", f, f$exposure, patients)
        if (patients >= least_patients)
            want("between_icc", "", "", bounded(icc_one_way(f$level, f$exposure),
                 leave_out(f$patient, function(keep) icc_one_way(f$level[keep], f$exposure[keep]))), patients)
    }
    g <- r[!duplicated(paste(r$exposure, r$reader, sep = "\r")) & r$reader != "", ]
    names <- sort(unique(g$reader), method = "radix")
    for (a in names) for (b in names[names > a]) {
        first <- g[g$reader == a, ]; second <- g[g$reader == b, ]
        both <- merge(first, second, by = "exposure", suffixes = c("", ".b"))
        both <- both[both$kind == both$kind.b, ]
        if (nrow(both) == 0) next
        both <- both[order(both$patient, both$implant, both$seen, both$film), ]
        grouping <- "reader|other_reader"; level <- paste(a, b, sep = "|")
        patients <- length(unique(both$patient))
        count("films_two_readers", grouping, level, nrow(both), both)
        x <- data.frame(level = c(both$level, both$level.b), patient = rep(both$patient, 2))
        if (patients < least_patients) {
            want("between_bias", grouping, level, list(), patients)
            want("between_icc", grouping, level, list(), patients)
            next
        }
        v <- agreement(both$level.b - both$level, both$patient)
        want("between_bias", grouping, level, v$bias, fields = c("value", "lower", "upper", "p"))
        want("between_limit_lower", grouping, level, v$lower)
        want("between_limit_upper", grouping, level, v$upper)
        error_rows("between", grouping, level, x, rep(both$exposure, 2), patients)
        want("between_icc", grouping, level, bounded(icc_two_way(both$level, both$level.b),
             leave_out(both$patient, function(keep) icc_two_way(both$level[keep], both$level.b[keep]))), patients)
    }
}

observed <- function(store, last) {
    file <- file.path(oracle$folder, "figures.csv")
    system2(Sys.getenv("RIDGETALLY"), c("figures", "--store", store, "--from", "2000-01-01", "--to", last), stdout = file)
    f <- read.csv(file, na.strings = "", check.names = FALSE, colClasses = "character")
    f <- f[f$section == "readers", ]
    for (v in c("grouping", "level")) f[[v]][is.na(f[[v]])] <- ""
    fields <- c(value = "value", lower = "lower", upper = "upper", p = "p", n = "n_implants", patients = "n_patients")
    do.call(rbind, lapply(names(fields), function(field)
        data.frame(quantity = paste(f$measure, field), group = paste(f$grouping, f$level), at = as.numeric(f$at),
                   value = as.numeric(f[[fields[[field]]]]))))
}

# --- stores: the sample practice, and readings added and taken away at random -----------------------------------
copy_of_reading <- function(new, condition) sprintf(
    "insert or ignore into reading (implant_id, seen_on, visit, film, reader, reading, level_mesial_raw_mm, level_distal_raw_mm, level_mesial_mm,
     level_distal_mm, level_kind, readable, batch_id, source_batch_id, source_line)
     select implant_id, seen_on, visit, film, %s, level_kind, readable, batch_id, source_batch_id, source_line from reading where level_mesial_mm
     is not null and level_distal_mm is not null and %s", new, condition)
shifted <- function(by, k) sprintf("level_mesial_mm + %s + ((id * %d) %% 11 - 5) / 40.0, level_distal_mm + %s - ((id * %d) %% 7 - 3) / 30.0", by, k, by, k + 2)
both <- function(by, k) paste(shifted(by, k), shifted(by, k), sep = ", ")
changes <- list(
    NULL,
    # a third reader, films read three times, readings without a name
    c(copy_of_reading(paste("'R3', 1,", both("0.1", 13)), "reading = 1 and reader = 'R1' and id % 9 = 0"),
      copy_of_reading(paste("reader, 7,", both("-0.05", 17)), "reading = 2 and id % 2 = 0"),
      copy_of_reading(paste("'', 1,", both("0", 19)), "reading = 1 and id % 23 = 0"),
      copy_of_reading(paste("'', 2,", both("0.02", 29)), "reading = 1 and id % 23 = 0"),
      "update reading set level_kind = 'contact' where reader = 'R2' and id % 5 = 0",
      "update reading set readable = 0 where id % 31 = 0"),
    # one reader, hardly any repeats
    c("delete from reading where reader = 'R2'", "delete from reading where reading > 1 and id % 40 <> 0"),
    # nothing read twice
    c("delete from reading where reader = 'R2' or reading > 1"),
    # repeats agree completely within, not between
    c("update reading set level_mesial_mm = (select level_mesial_mm from reading o where o.implant_id = reading.implant_id and o.seen_on = reading.seen_on
       and o.film = reading.film and o.reader = reading.reader and o.reading = 1), level_distal_mm = (select level_distal_mm from reading o where
       o.implant_id = reading.implant_id and o.seen_on = reading.seen_on and o.film = reading.film and o.reader = reading.reader and o.reading = 1)
       where reading > 1"),
    # heaped on halves
    c("update reading set level_mesial_mm = round(level_mesial_mm * 2) / 2, level_distal_mm = round(level_distal_mm * 2) / 2"))

base <- file.path(oracle$folder, "base.db")
run <- function(...) system2(Sys.getenv("RIDGETALLY"), c(...), stdout = FALSE, stderr = FALSE)
run("new", "--store", base)
run("load", "--store", base, file.path("sample-data", c("implants.csv", "followups.csv", "events.csv")))
for (i in seq_along(changes)) for (last in c("2026-09-30", "2024-06-30")) {
    set <- structure(list(seed = i, kind = last), class = "data_set")
    store <- file.path(oracle$folder, "store.db")
    file.copy(base, store, overwrite = TRUE)
    if (!is.null(changes[[i]])) must("figures_readers", set, change_store(store, changes[[i]]), "change of the store")
    rows <- list()
    r <- readings(store, day(last))
    count("films_read", "", "", length(unique(r$exposure)), r)
    expect_within(r, "", "")
    for (reader in unique(r$reader)) {
        x <- r[r$reader == reader, ]
        name <- if (reader == "") "not recorded" else reader
        count("films_read", "reader", name, length(unique(x$exposure)), x)
        expect_within(x, "reader", name)
    }
    expect_between(r)
    ours <- observed(store, last)
    theirs <- do.call(rbind, rows)
    show_differences(paste(i, last), ours, theirs)
    compare("figures_readers", set, ours, theirs)
}
finish()
