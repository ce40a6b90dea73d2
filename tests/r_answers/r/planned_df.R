# Answers from R for the precision to expect of a layout. Run from the repository root:
#   Rscript tests/r_answers/r/planned_df.R
# Rewrites tests/r_answers/{planned_df,planned_df_answers}.csv; needs base R only.
# Whole matrices over all blocks, written out: V, P = V^-1 - V^-1 1 (1' V^-1 1)^-1 1' V^-1, the expected information of
# REML tr(P V_i P V_j) / 2 (Searle, Casella and McCulloch 1992, Variance Components, chapter 6), df by Satterthwaite.
source(file.path("tests", "r_answers", "r", "write_answers.R"))

set.seed(21)
layout <- function(case, places, seasons, keep, lone = FALSE) {
  cells <- expand.grid(place = paste0("p", seq_len(places)), season = 2090 + seq_len(seasons), stringsAsFactors = FALSE)
  cells <- cells[sort(sample(nrow(cells), keep)), ]
  if (lone) cells <- rbind(cells, data.frame(place = "p1", season = 2086))
  data.frame(case, cells, n_blocks = sample(3:6, nrow(cells), TRUE))
}
layouts <- rbind(layout("a season with one site-year", 12, 4, 34, lone = TRUE), layout("no place", 12, 4, 34, lone = TRUE),
                 layout("few site-years", 6, 3, 9), layout("season alone", 10, 5, 25, lone = TRUE))
write_answers(layouts, "planned_df")

components <- data.frame(case = unique(layouts$case), season = c(65000, 65000, 12000, 3000), place = c(20000, 0, 9000, 0),
                         site_year = c(137000, 137000, 15000, 0), residual = c(331000, 331000, 310000, 250000))
planned <- function(x, v) {
  rows <- x[rep(seq_len(nrow(x)), x$n_blocks), ]
  rows$site_year <- rep(seq_len(nrow(x)), x$n_blocks)
  alike <- lapply(c("season", "place", "site_year"), function(name) outer(rows[[name]], rows[[name]], "==") * 1)
  parts <- c(alike, list(diag(nrow(rows))))
  value <- unlist(v[c("season", "place", "site_year", "residual")])
  parts <- parts[value > 0]; value <- value[value > 0]
  inverse <- solve(Reduce(`+`, Map(`*`, value, parts)))
  weight <- rowSums(inverse); variance <- 1 / sum(weight)
  p <- inverse - variance * outer(weight, weight)
  through <- lapply(parts, function(part) p %*% part)
  information <- sapply(through, function(a) sapply(through, function(b) sum(a * t(b)) / 2))
  gradient <- sapply(parts, function(part) variance^2 * drop(weight %*% part %*% weight))
  data.frame(v, std_error = sqrt(variance), df = 2 * variance^2 / drop(gradient %*% solve(information, gradient)))
}
answers <- lapply(components$case, function(case) planned(layouts[layouts$case == case, ], components[components$case == case, ]))
write_answers(do.call(rbind, answers), "planned_df_answers")
