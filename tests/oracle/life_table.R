# Life tables by the formulas of Cutler & Ederer (1958) and Greenwood, written out.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
source(file.path(Sys.getenv("ORACLE"), "support", "follow_up.R"))

for (set in data_sets(250, survival_kinds)) {
    start(set)
    d <- follow_up_data(set)
    width <- if (nrow(d) > 0) signif(max(d$time, 1e-12) / sample(2:9, 1), 3) else 1
    ours <- reckon("life-table", d, "--time", "time", "--event", "event", "--by", "g", "--width", sprintf("%.17g", width))
    must("life-table", set, attr(ours, "status") == 0, "runs")
    if (nrow(d) == 0) next
    for (g in unique(d$g)) {
        x <- d[d$g == g, ]
        # a time on a border, to binary noise, is on it
        cell <- floor(x$time / width)
        cell <- cell + (abs(x$time - (cell + 1) * width) <= 1e-9 * x$time)
        count <- max(cell) + 1
        failed <- tabulate(cell[x$event == 1] + 1, count)
        withdrawn <- tabulate(cell[x$event == 0] + 1, count)
        entering <- nrow(x) - c(0, cumsum(failed + withdrawn)[-count])
        exposed <- entering - withdrawn / 2
        p <- ifelse(exposed > 0, 1 - failed / exposed, NA)
        S <- cumprod(p)
        term <- ifelse(exposed > failed, failed / (exposed * (exposed - failed)), 0)
        se <- ifelse(is.na(S) | S == 0, NA, S * sqrt(cumsum(term)))
        hazard <- ifelse(exposed > 0, failed / (width * (exposed - failed / 2)), NA)
        start <- (seq_len(count) - 1) * width
        compare("life-table", set, ours, list(
            expect("entering", g, start, entering), expect("withdrawn", g, start, withdrawn), expect("exposed", g, start, exposed),
            expect("failed", g, start, failed), expect("interval_survival", g, start, p, 1e-8),
            expect("cumulative_survival", g, start, S, 1e-8), expect("standard_error", g, start, se, 1e-5),
            expect("hazard", g, start, hazard)))
    }
}
finish()
