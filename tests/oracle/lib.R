# Helpers of the oracle suite: random data, a run of `reckon`, the comparison with R cell by cell.
#
# A script tests/oracle/METHOD.R:
#
#     source(file.path(Sys.getenv("ORACLE"), "lib.R"))
#     for (set in data_sets(200)) {
#         start(set)                                 # seeds the generator: each set stands alone
#         d <- data.frame(y = random_values(30, set$kind), g = random_groups(30, 3))
#         ours <- reckon("mean", d, "--value", "y", "--by", "g")
#         compare("mean", set, ours, expect("estimate", names(m), value = m))
#     }
#     finish()
#
# Environment: RIDGETALLY = path of the program, ORACLE = this folder, ORACLE_RESULTS = folder for the results.
# compare() never stops: the worst cells are in the final table, which fails above `limit`.

options(digits = 17, warn = 1, stringsAsFactors = FALSE)
Sys.setenv(LC_ALL = "C")
invisible(Sys.setlocale("LC_ALL", "C"))

limit <- 1e-6                                        # largest relative error accepted

oracle <- new.env()
oracle$results <- list()
oracle$quantities <- character(0)
oracle$folder <- tempfile("oracle")
dir.create(oracle$folder)

# --- random data -------------------------------------------------------------------------------------------
# Kinds a numeric column can have. "ties": few distinct values; "huge" and "tiny": 1e9 and 1e-9; "offset": a large mean
# and a small spread; "constant": one value; "heaped": rounded to half units.
kinds <- c("plain", "ties", "huge", "tiny", "offset", "heaped", "skewed")

# `count` data sets, their seeds fixed; kinds come in turn.
data_sets <- function(count, use = kinds, first = 1L) {
    lapply(seq_len(count), function(i) structure(list(seed = first + i - 1L, kind = use[(i - 1L) %% length(use) + 1L]),
                                                 class = "data_set"))
}

# for (set in data_sets(n)) { start(set); ... } : seeds the generator, so that each set stands alone.
start <- function(set) set.seed(set$seed, kind = "Mersenne-Twister", normal.kind = "Inversion", sample.kind = "Rejection")

random_values <- function(n, kind = "plain") {
    switch(kind,
        plain = rnorm(n),
        ties = sample(-2:3, n, TRUE),
        huge = 1e9 * (1 + rnorm(n)),
        tiny = 1e-9 * rnorm(n),
        offset = 1e4 + rnorm(n) / 8,
        heaped = round(2 * rnorm(n, 1, 1.5)) / 2,
        skewed = exp(1.2 * rnorm(n)),
        constant = rep(rnorm(1), n),
        stop("unknown kind ", kind))
}

# Levels L1..Lk with unequal shares; every level occurs when n >= k and fill is TRUE.
random_groups <- function(n, k, fill = TRUE) {
    g <- sample(k, n, TRUE, prob = runif(k, 0.3, 1))
    if (fill && n >= k) g[sample(n, k)] <- seq_len(k)
    paste0("L", g)
}

# Patients with unequal cluster sizes (1, 2, 3 and now and then a full mouth of 8), in no order; `patients` is the
# expected number. All labels are text.
random_clusters <- function(n, patients = max(2, n %/% 2)) {
    sizes <- sample(c(1, 1, 1, 2, 2, 3, 8), n, TRUE)
    p <- sample(patients, n, TRUE, prob = sizes[seq_len(patients) %% length(sizes) + 1])
    paste0("p", p)
}

# Correlated values: a patient effect of variance icc beside a residual of variance 1 - icc.
clustered_values <- function(cluster, icc = 0.3) {
    effect <- rnorm(length(unique(cluster)))
    sqrt(icc) * effect[match(cluster, unique(cluster))] + sqrt(1 - icc) * rnorm(length(cluster))
}

# Times and events; kind "ties" rounds the times up to whole units. shape: "some", "none" or "all" events.
random_survival <- function(n, kind = "plain", shape = "some", rate = 0.2) {
    t <- rexp(n, rate)
    u <- rexp(n, rate)
    time <- pmin(t, u)
    event <- as.integer(t <= u)
    if (shape == "none") event[] <- 0L
    if (shape == "all") { time <- t; event[] <- 1L }
    if (kind == "ties" || kind == "heaped") time <- ceiling(time)
    if (kind == "huge") time <- time * 1e9
    if (kind == "tiny") time <- time * 1e-9
    data.frame(time = time, event = event)
}

# --- running reckon ----------------------------------------------------------------------------------------
write_table <- function(data, file) {
    cells <- lapply(data, function(x) {
        text <- if (is.double(x)) sprintf("%.17g", x) else gsub('"', '""', as.character(x), fixed = TRUE)
        if (!is.numeric(x)) text <- paste0('"', text, '"')
        ifelse(is.na(x), "", text)
    })
    lines <- if (nrow(data) > 0) do.call(paste, c(unname(cells), sep = ",")) else character(0)
    writeLines(c(paste0('"', names(data), '"', collapse = ","), lines), file)
}

# Run `reckon METHOD ... FILE` on a data frame. Returns quantity, group, at, value as a data frame (value NA where
# undefined); attributes: status (exit code) and messages (stderr).
reckon <- function(method, data, ...) {
    file <- file.path(oracle$folder, "data.csv")
    out <- file.path(oracle$folder, "out.csv")
    err <- file.path(oracle$folder, "err.txt")
    write_table(data, file)
    status <- system2(Sys.getenv("RIDGETALLY"), c("reckon", method, shQuote(c(..., file))), stdout = out, stderr = err)
    messages <- readLines(err, warn = FALSE)
    if (status != 0 || file.size(out) == 0) {
        rows <- data.frame(quantity = character(0), group = character(0), at = numeric(0), value = numeric(0))
    } else {
        rows <- read.csv(out, colClasses = c("character", "character", "numeric", "numeric"), na.strings = "",
                         check.names = FALSE)
        rows$quantity[is.na(rows$quantity)] <- ""
        rows$group[is.na(rows$group)] <- ""
    }
    structure(rows, status = status, messages = messages)
}

# Change a store behind the program's back. The seals of its pages would tell: it is written anew without them, which is read too.
change_store <- function(store, statements) {
    pragma <- function(name) system2("sqlite3", c(store, shQuote(paste("PRAGMA", name))), stdout = TRUE)
    script <- tempfile("change", oracle$folder)
    system2("sqlite3", c(store, ".dump"), stdout = script)
    cat(sprintf("PRAGMA user_version = %s;\nPRAGMA application_id = %s;\n", pragma("user_version"), pragma("application_id")),
        paste0(statements, ";\n"), file = script, append = TRUE, sep = "")
    unlink(store)
    system2("sqlite3", c("-bail", store), stdin = script) == 0
}

# --- expected values ---------------------------------------------------------------------------------------
# Rows of expected values. group "" and at NA where the method has none. scale: the natural size of the quantity, such
# as its standard error: a value far below it is compared on that scale (a slope of 1e-17 with an error of 1 is 0).
expect <- function(quantity, group = "", at = NA_real_, value, scale = 0) {
    if (length(value) == 0) return(NULL)
    data.frame(quantity = quantity, group = group, at = at, value = unname(value), scale = unname(scale))
}

key_of <- function(rows) paste(rows$quantity, rows$group, ifelse(is.na(rows$at), "", sprintf("%.12g", rows$at + 0)), sep = "~")

# Relative error of ours against theirs. p-values below 1e-10 need only agree absolutely to 1e-12.
relative_error <- function(quantity, ours, theirs, scale) {
    one_sided <- is.na(ours) != is.na(theirs)
    error <- abs(ours - theirs) / pmax(abs(theirs), scale)
    error[!is.na(theirs) & theirs == 0 & scale == 0] <- abs(ours)[!is.na(theirs) & theirs == 0 & scale == 0]
    small_p <- grepl("(^|_)p$", quantity) & !is.na(theirs) & !is.na(ours) & abs(theirs) < 1e-10 & abs(ours - theirs) < 1e-12
    error[small_p] <- 0
    error[is.na(ours) & is.na(theirs)] <- 0
    error[!is.na(ours) & !is.na(theirs) & ours == theirs] <- 0
    error[one_sided] <- Inf
    error
}

# Quantities for which R found a value, for tests/oracle/support/every_measure.R.
recomputed <- function(theirs) oracle$quantities <- union(oracle$quantities, theirs$quantity[!is.na(theirs$value)])

# Compare every expected row with ours and keep the worst. A row we do not have counts as an infinite error, one that
# both leave undefined as agreement. Rows we have beyond the expected ones are not looked at.
compare <- function(method, set, ours, theirs, label = "") {
    theirs <- if (is.data.frame(theirs)) theirs else do.call(rbind, theirs)
    recomputed(theirs)
    found <- match(key_of(theirs), key_of(ours))
    value <- ours$value[found]
    error <- relative_error(theirs$quantity, value, theirs$value, theirs$scale)
    error[is.na(found)] <- Inf
    worst <- which.max(error)
    where <- sprintf("set %s (%s)%s: %s ours %.15g theirs %.15g", set$seed, set$kind, if (label == "") "" else paste0(" ", label),
                     key_of(theirs)[worst], value[worst], theirs$value[worst])
    if (is.na(found[worst])) where <- paste(where, "[row missing]", paste(head(attr(ours, "messages"), 1), collapse = ""))
    oracle$results[[length(oracle$results) + 1]] <-
        data.frame(method = method, quantity = theirs$quantity[worst], cells = nrow(theirs), error = error[worst], where = where)
    invisible(max(error))
}

# With FIGURES_DEBUG set: every cell that differs or is missing, which `compare` tells by the worst one only.
show_differences <- function(label, ours, theirs) {
    if (!nzchar(Sys.getenv("FIGURES_DEBUG"))) return(invisible())
    found <- match(key_of(theirs), key_of(ours))
    error <- relative_error(theirs$quantity, ours$value[found], theirs$value, theirs$scale)
    error[is.na(found)] <- Inf
    bad <- which(error > limit)
    cat("set", label, "cells", nrow(theirs), "told", sum(!is.na(theirs$value)), "bad", length(bad), "\n")
    print(head(data.frame(key = key_of(theirs), ours = ours$value[found], theirs = theirs$value, missing = is.na(found))[bad, ], 40))
}

# A condition that must hold (for example that a run fails with words instead of numbers).
must <- function(method, set, holds, what) {
    oracle$results[[length(oracle$results) + 1]] <-
        data.frame(method = method, quantity = "", cells = 1, error = if (isTRUE(holds)) 0 else Inf,
                   where = sprintf("set %s (%s): %s", set$seed, set$kind, what))
}

# --- the end -----------------------------------------------------------------------------------------------
# Summary per method, written for the runner; the exit code is 1 when a cell is above the limit.
finish <- function() {
    script <- sub("--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)[1])
    all <- do.call(rbind, oracle$results)
    summary <- do.call(rbind, lapply(split(all, all$method), function(m) {
        worst <- m[which.max(m$error), ]
        data.frame(method = m$method[1], sets = nrow(m), cells = sum(m$cells), failed = sum(m$error > limit),
                   error = worst$error, where = worst$where)
    }))
    folder <- Sys.getenv("ORACLE_RESULTS", oracle$folder)
    write.csv(summary, file.path(folder, sub("[.]R$", ".csv", basename(script))), row.names = FALSE)
    writeLines(as.character(oracle$quantities), file.path(folder, sub("[.]R$", ".quantities", basename(script))))
    for (i in seq_len(nrow(summary)))
        cat(sprintf("%-12s %5d sets %7d cells, worst %.2g, %d failed\n", summary$method[i], summary$sets[i],
                    summary$cells[i], summary$error[i], summary$failed[i]))
    bad <- all[all$error > limit, ]
    for (i in seq_len(min(nrow(bad), 10))) cat("  ", bad$method[i], ": ", bad$where[i], "\n", sep = "")
    unlink(oracle$folder, recursive = TRUE)
    quit(status = if (any(all$error > limit)) 1L else 0L)
}
