# For the scripts beside it, run from the repository root: a frame as tests/r_answers/<name>.csv, 15 digits,
# its first line naming R and the packages it was made with.
write_answers <- function(frame, name, packages = "stats") {
  versions <- sapply(packages, function(p) paste(p, packageVersion(p)))
  path <- file.path("tests", "r_answers", paste0(name, ".csv"))
  writeLines(paste0("# ", R.version.string, ", ", paste(versions, collapse = ", ")), path)
  formatted <- lapply(frame, function(x) if (is.numeric(x)) trimws(formatC(x, digits = 15, format = "g")) else x)
  suppressWarnings(write.table(as.data.frame(formatted), path, append = TRUE, sep = ",",
                               row.names = FALSE, quote = FALSE))
}
