# Is every figure of the audit recomputed by some oracle script? Each script leaves the quantities for which R found a value
# (lib.R, finish); here they are held against the catalogue and the figures of the sample practice: a measure that no script
# recomputes fails, and so does an interval of one. What is no number of R's to find is listed with its reason.
#
# Environment: RIDGETALLY = path of the program, ORACLE_RESULTS = folder with the files NAME.quantities.
results <- Sys.getenv("ORACLE_RESULTS")
found <- unique(unlist(lapply(list.files(results, "^figures.*[.]quantities$", full.names = TRUE), readLines, warn = FALSE)))

excused <- c()

folder <- tempfile("measures")
dir.create(folder)
run <- function(...) system2(Sys.getenv("RIDGETALLY"), c(...), stdout = FALSE, stderr = FALSE)
run("demo", "--out", folder)
figures <- read.csv(file.path(folder, "figures.csv"), na.strings = "", colClasses = "character")
catalogue <- read.csv(text = system2(Sys.getenv("RIDGETALLY"), c("figures", "--catalogue"), stdout = TRUE), colClasses = "character")
unlink(folder, recursive = TRUE)

told <- figures[figures$state == "ok", ]
needed <- unique(c(paste(catalogue$measure, "value"), paste(told$measure[!is.na(told$lower)], "lower")))
missing <- setdiff(needed, c(found, excused))
stale <- intersect(excused, found)
cat(sprintf("figures: %d quantities of %d measures, %d recomputed by no script\n", length(needed), nrow(catalogue), length(missing)))
if (length(missing)) cat(paste0("  ", missing, "\n"), sep = "")
if (length(stale)) cat(paste0("  excused but recomputed: ", stale, "\n"), sep = "")
quit(status = if (length(missing) || length(stale) || length(needed) < 100) 1L else 0L)
