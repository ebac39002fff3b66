# How many cases are due (flow/due_cases), and crest changes between films of different readers, against R, from the base tables:
# fates, films, baselines and thresholds are written again here, from the rules of the manual and the catalogue.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
suppressPackageStartupMessages(library(clubSandwich))

month <- 30.4375
read_sql <- function(store, sql) {
    rows <- suppressWarnings(system2("sqlite3", c("-csv", "-header", store, shQuote(sql)), stdout = TRUE))
    if (length(rows) == 0) {                                # no row: no header either
        table <- sub("^.* from ([a-z_]+).*$", "\\1", sql)
        rows <- paste(system2("sqlite3", c(store, shQuote(sprintf("select name from pragma_table_info('%s')", table))), stdout = TRUE), collapse = ",")
    }
    read.csv(text = rows, na.strings = "", check.names = FALSE, colClasses = "character")
}
numbers <- function(d, names) { for (v in names) d[[v]] <- as.numeric(d[[v]]); d }
day <- function(text) as.integer(as.Date(text))
hundredths <- function(x) round(x * 100 + sign(x) * 1e-6)

records <- function(store, last) {
    d <- numbers(read_sql(store, "select * from implant"), c("id", "patient_id", "placed_on", "loaded_on", "loaded", "final_torque_ncm", "final_torque_capped"))
    d <- d[!is.na(d$placed_on) & d$placed_on <= last, ]
    d <- d[order(d$patient_id, d$id), ]
    r <- numbers(read_sql(store, "select * from reading"), c("implant_id", "seen_on", "reading", "level_mesial_mm", "level_distal_mm", "readable",
                                                              "bleeding", "suppuration", "probing_mm"))
    r$reader[is.na(r$reader)] <- ""; r$film[is.na(r$film)] <- ""
    r <- r[r$seen_on <= last, ]
    e <- numbers(read_sql(store, "select * from event"), c("patient_id", "implant_id", "happened_on"))
    e <- e[e$happened_on <= last, ]
    setting <- read_sql(store, "select name, value from setting")
    setting <- setNames(as.list(setting$value), setting$name)
    cut <- numbers(read_sql(store, "select * from class_cut where quantity = 'torque'"), c("valid_from", "position", "upper_cut", "upper_included"))
    cut <- cut[cut$valid_from == max(cut$valid_from[cut$valid_from <= last]), ]
    primary <- setting$primary_reader
    if (is.null(primary) || is.na(primary) || !nzchar(primary)) {
        n <- table(r$reader[r$reading == 1 & (!is.na(r$level_mesial_mm) | !is.na(r$level_distal_mm))])
        primary <- if (length(n)) sort(names(n)[n == max(n)])[1] else ""
    }
    when <- function(i, kind) {
        x <- e$happened_on[e$patient_id == d$patient_id[i] & e$event == kind & e$happened_on >= d$placed_on[i] &
                           (is.na(e$implant_id) | e$implant_id == d$id[i] | kind %in% c("died", "moved_away"))]
        if (length(x) == 0) NA else if (kind == "moved_away") max(x) else min(x)
    }
    for (kind in c("removed", "elective", "died", "moved_away", "unused")) d[[kind]] <- sapply(seq_len(nrow(d)), when, kind)
    later <- !is.na(d$loaded_on) & d$loaded_on > last
    d$loaded[later] <- 0; d$loaded_on[later] <- NA
    d$seen <- d$placed_on
    films <- visits <- vector("list", nrow(d))
    for (i in seq_len(nrow(d))) {
        x <- r[r$implant_id == d$id[i] & r$seen_on >= d$placed_on[i], ]
        if (nrow(x)) d$seen[i] <- max(x$seen_on)
        x <- x[order(x$seen_on, x$reader != primary, x$reader, x$film, x$reading, method = "radix"), ]
        visits[[i]] <- x
        gone <- suppressWarnings(min(d$removed[i], d$elective[i], na.rm = TRUE))
        x <- x[x$reading == 1 & (is.na(x$readable) | x$readable == 1) & (!is.na(x$level_mesial_mm) | !is.na(x$level_distal_mm)) & x$seen_on <= gone, ]
        films[[i]] <- x[!duplicated(x$seen_on), ]
    }
    d$here <- is.na(d$removed) & is.na(d$elective) & is.na(d$died) & (is.na(d$moved_away) | d$moved_away < d$seen)
    list(d = d, films = films, visits = visits, last = last, recall = floor(as.numeric(setting$recall_interval_months) * month), cut = cut,
         doubt = numbers(read_sql(store, "select patient_id, implant_id, blocks, state, weight from doubt"), c("patient_id", "implant_id")),
         all = numbers(read_sql(store, "select id, placed_on from implant"), c("id", "placed_on")),
         wait = as.numeric(read_sql(store, "select value from house_rule_parameter where rule = 'wait-twelve-weeks' and name = 'wait'")$value))
}

nearest <- function(f, low, high, wanted) {
    f <- f[f$seen_on >= low & f$seen_on <= high, ]
    if (nrow(f) == 0) return(NULL)
    f[order(abs(f$seen_on - wanted), f$seen_on)[1], ]
}
placement_film <- function(c, i) nearest(c$films[[i]], c$d$placed_on[i], c$d$placed_on[i] + 30, c$d$placed_on[i])
loading_film <- function(c, i) {
    at <- c$d$loaded_on[i]
    if (is.na(at)) NULL else nearest(c$films[[i]], at - 30, at + 60, at)
}
both_read <- function(f) !is.null(f) && !is.na(f$level_mesial_mm) && !is.na(f$level_distal_mm)
last_known <- function(x) { x <- x[!is.na(x)]; if (length(x)) tail(x, 1) else NA }

bone_to_look_at <- function(c, i) {
    f <- c$films[[i]]
    baseline <- NULL
    if (nrow(f) > 0) {
        now <- f[nrow(f), ]
        for (first in list(loading_film(c, i), placement_film(c, i)))
            if (is.null(baseline) && !is.null(first) && first$seen_on < now$seen_on && first$level_kind == now$level_kind) baseline <- first
        if (!is.null(baseline)) {
            lost <- c(baseline$level_mesial_mm - now$level_mesial_mm, baseline$level_distal_mm - now$level_distal_mm)
            return(any(hundredths(lost) >= 200, na.rm = TRUE))
        }
        if (any(hundredths(-c(now$level_mesial_mm, now$level_distal_mm)) >= 300, na.rm = TRUE)) return(TRUE)
    }
    v <- c$visits[[i]]
    probing <- last_known(v$probing_mm)
    (last_known(v$bleeding) %in% 1 || last_known(v$suppuration) %in% 1) && !is.na(probing) && hundredths(probing) >= 600
}

rows <- list()
want <- function(measure, group, at = NA, ...) {
    fields <- list(...)
    for (field in names(fields)) rows[[length(rows) + 1]] <<- expect(paste(measure, field), group, at, fields[[field]], scale = 1e-3)
}
count <- function(kind, x, cases = nrow(x)) want("due_cases", paste("due", kind), value = cases, n = nrow(x), patients = length(unique(x$patient_id)))

expect_due <- function(c) {
    d <- c$d
    seen <- tapply(d$seen, d$patient_id, max)
    some <- tapply(d$here, d$patient_id, any)
    n <- sum(some & seen + c$recall < c$last)
    want("due_cases", "due recall", value = n, patients = n)
    index <- seq_len(nrow(d))
    count("baseline film", d[d$here & d$placed_on + 30 < c$last & !sapply(index, function(i) both_read(placement_film(c, i))), ])
    open <- d$here & is.na(d$loaded_on) & !(d$loaded %in% 1)
    count("loading", d[open & is.na(d$unused) & c$last - d$placed_on > c$wait, ])
    low <- c$cut[c$cut$position == 1, ]
    below <- hundredths(d$final_torque_ncm) < hundredths(low$upper_cut) | (low$upper_included == 1 & hundredths(d$final_torque_ncm) == hundredths(low$upper_cut))
    count("low torque", d[open & below %in% TRUE & !(d$final_torque_capped %in% 1), ])
    count("bone", d[d$here & sapply(index, function(i) bone_to_look_at(c, i)), ])
    q <- c$doubt[c$doubt$weight == "contradiction" & !(c$doubt$state %in% c("mended", "left")) & !is.na(c$doubt$patient_id), ]
    placed <- c$all$placed_on[match(q$implant_id, c$all$id)]
    q <- q[is.na(q$implant_id) | is.na(placed) | placed <= c$last, ]
    want("due_cases", "due contradiction", value = nrow(q), n = length(unique(q$implant_id[!is.na(q$implant_id)])), patients = length(unique(q$patient_id)))
}

expect_changes <- function(c) {
    d <- c$d
    blocks <- function(i) paste(c$doubt$blocks[c$doubt$weight == "contradiction" & c$doubt$state != "mended" &
        (c$doubt$implant_id %in% d$id[i] | (is.na(c$doubt$implant_id) & c$doubt$patient_id %in% d$patient_id[i]))], collapse = " ")
    out <- NULL
    for (i in seq_len(nrow(d))) {
        p <- d$placed_on[i]
        if (p + ceiling(18 * month) - 1 > c$last || grepl("crest", blocks(i))) next
        first <- placement_film(c, i)
        later <- nearest(c$films[[i]], p + ceiling(9 * month), p + ceiling(18 * month) - 1, p + 12 * month)
        if (!both_read(first) || !both_read(later) || first$level_kind != later$level_kind) next
        out <- rbind(out, data.frame(patient = d$patient_id[i], same = first$reader == later$reader,
            change = (later$level_mesial_mm + later$level_distal_mm - first$level_mesial_mm - first$level_distal_mm) / 2))
    }
    if (is.null(out)) return(invisible())
    want("changes_two_readers", "window all", at = 12, value = sum(!out$same), n = sum(!out$same), patients = length(unique(out$patient[!out$same])), due = nrow(out))
    x <- out[out$same, ]
    if (length(unique(x$patient)) >= 10) {
        fit <- lm(change ~ 1, x)
        t <- coef_test(fit, vcovCR(fit, x$patient, type = "CR2"), test = "Satterthwaite")
        half <- qt(0.975, t$df[1]) * t$SE[1]
        want("change_one_reader", "window all", at = 12, value = mean(x$change), lower = mean(x$change) - half, upper = mean(x$change) + half, n = nrow(x), due = nrow(out))
    }
}

observed <- function(store, last) {
    file <- file.path(oracle$folder, "figures.csv")
    system2(Sys.getenv("RIDGETALLY"), c("figures", "--store", store, "--from", last, "--to", last), stdout = file)
    f <- read.csv(file, na.strings = "", check.names = FALSE, colClasses = "character")
    f <- f[f$measure %in% c("due_cases", "changes_two_readers", "change_one_reader"), ]
    fields <- c(value = "value", lower = "lower", upper = "upper", n = "n_implants", patients = "n_patients", due = "n_due")
    do.call(rbind, lapply(names(fields), function(field)
        data.frame(quantity = paste(f$measure, field), group = paste(f$grouping, f$level), at = as.numeric(f$at), value = as.numeric(f[[fields[[field]]]]))))
}

# --- stores: the sample practice, and its records changed -----------------------------------------------------------------
hash <- function(k, m) sprintf("abs(id * %d + %d) %% %d", 7919 + k, 31 * k, m)
changes <- list(
    NULL,
    # bone gone, readings lost, probing deep, films of two kinds
    c(sprintf("update reading set level_mesial_mm = level_mesial_mm - 2.4 where visit = 'review' and %s < 3", hash(1, 10)),
      sprintf("update reading set level_distal_mm = null where %s < 1", hash(2, 12)),
      sprintf("delete from reading where visit = 'placement' and %s < 3", hash(3, 10)),
      sprintf("update reading set level_mesial_mm = -3.0, level_distal_mm = -2.99 where %s < 1", hash(4, 20)),
      sprintf("update reading set probing_mm = 6, bleeding = 1 where %s < 2", hash(5, 20)),
      sprintf("update reading set level_kind = 'contact' where %s < 2", hash(6, 10)),
      sprintf("update reading set reader = 'R2' where reader = 'R1' and reading = 1 and %s < 3 and not exists (select 1 from reading o where
               o.implant_id = reading.implant_id and o.seen_on = reading.seen_on and o.id <> reading.id)", hash(7, 10))),
    # loading unknown or denied, torque low and capped, other settings, patients moved and dead
    c(sprintf("update implant set loaded_on = null, loaded = null where %s < 2", hash(8, 10)),
      sprintf("update implant set loaded_on = null, loaded = 0 where %s < 2", hash(9, 10)),
      sprintf("update implant set final_torque_ncm = 15, final_torque_capped = 0 where %s < 3", hash(10, 10)),
      sprintf("update implant set final_torque_ncm = 18, final_torque_capped = 1 where %s < 1", hash(11, 10)),
      "update setting set value = '6' where name = 'recall_interval_months'", "update setting set value = 'R2' where name = 'primary_reader'",
      "update house_rule_parameter set value = 200 where rule = 'wait-twelve-weeks' and name = 'wait'",
      sprintf("insert or ignore into event (patient_id, happened_on, event, batch_id, source_batch_id, source_line) select patient_id, max(placed_on) + 300,
               'moved_away', 1, 1, 1 from implant where %s < 1 group by patient_id", hash(12, 10)),
      sprintf("insert or ignore into event (patient_id, implant_id, happened_on, event, batch_id, source_batch_id, source_line) select patient_id, id,
               placed_on + 100, 'unused', 1, 1, 1 from implant where %s < 1", hash(13, 10)),
      "update doubt set state = 'left' where id % 3 = 0"),
    # nothing seen, nothing happened
    c("delete from reading", "delete from event", "delete from doubt_answer", "delete from doubt"))

base <- file.path(oracle$folder, "base.db")
run <- function(...) system2(Sys.getenv("RIDGETALLY"), c(...), stdout = FALSE, stderr = FALSE)
run("new", "--store", base)
run("load", "--store", base, file.path("sample-data", c("implants.csv", "followups.csv", "events.csv")))
for (i in seq_along(changes)) for (last in c("2026-09-30", "2024-02-29", "2021-12-31")) {
    set <- structure(list(seed = i, kind = last), class = "data_set")
    store <- file.path(oracle$folder, "store.db")
    file.copy(base, store, overwrite = TRUE)
    if (!is.null(changes[[i]])) must("figures_due", set, change_store(store, changes[[i]]), "change of the store")
    rows <- list()
    c1 <- records(store, day(last))
    expect_due(c1)
    expect_changes(c1)
    theirs <- do.call(rbind, rows)
    ours <- observed(store, last)
    show_differences(paste(i, last), ours, theirs)
    compare("figures_due", set, ours, theirs)
}
finish()
