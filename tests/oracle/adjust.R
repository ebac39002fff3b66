# Adjusted p-values against p.adjust, empty cells included.
source(file.path(Sys.getenv("ORACLE"), "lib.R"))
for (set in data_sets(120, c("plain", "ties", "gaps", "extreme", "few"))) {
    start(set)
    n <- if (set$kind == "few") sample(0:2, 1) else sample(3:40, 1)
    p <- switch(set$kind, ties = sample(c(0.001, 0.02, 0.04, 1), n, TRUE), extreme = 10^-runif(n, 0, 300), runif(n)^2)
    if (set$kind == "gaps") p[sample(n, n %/% 3)] <- NA
    if (set$kind == "extreme") p[sample(n, 2)] <- c(0, 1)
    ours <- reckon("adjust", data.frame(test = if (n) paste0("t", seq_len(n)) else character(0), p = p), "--p", "p") # one column alone: an empty line
    here <- which(!is.na(p))
    if (length(here) > 0) compare("adjust", set, ours, rbind(expect("holm", here, value = p.adjust(p, "holm")[here]), expect("bh", here, value = p.adjust(p, "BH")[here])))
    must("adjust", set, nrow(ours) == 2 * length(here), "no rows for empty cells")
}
finish()
