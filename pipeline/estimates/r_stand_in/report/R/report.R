# Only its name is needed: pymer4 looks it up when it is imported.
report <- function(...) {
  stop(
    "This is manyfields' stand-in for the R package 'report', which has no ",
    "working functions. To write model reports in words, install the real ",
    "package 'report' in R and run `make setup` again.",
    call. = FALSE
  )
}
