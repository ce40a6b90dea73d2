# The script that an expert would write for the demo's averages alone: reads the plot tables, works out yields and block
# gains, fits one mixed model per comparison by lme4 and lmerTest, and draws one figure a crop.
#
#   Rscript tests/benchmarks/peer.R FOLDER FIGURES > tests/r_answers/peer_answers.csv
#
# It shares nothing with the pipeline: no code, no settings, no checks. FOLDER: one folder a season with plots.csv,
# treatments.csv and trials.csv, and sites.csv in the first, as tests/peer.py writes them. Prints one line per comparison
# and target, in bushels or pounds per acre.
suppressPackageStartupMessages(library(lmerTest))
given <- commandArgs(trailingOnly = TRUE)

every <- function(table) {
  files <- sort(Sys.glob(file.path(given[1], "*", paste0(table, ".csv"))))
  read <- lapply(files, read.csv, colClasses = "character", check.names = FALSE)
  names <- Reduce(union, lapply(read, names))
  type.convert(do.call(rbind, lapply(read, function(d) { d[setdiff(names, names(d))] <- NA; d[names] })), as.is = TRUE)
}
trials <- every("trials")[c("trial_id", "season", "site_id", "crop", "row_spacing_in")]
plots <- merge(every("plots"), trials, by = "trial_id")
plots <- merge(plots, every("treatments"), by = c("trial_id", "treatment_code"))
plots <- merge(plots, every("sites")[c("site_id", "place")], by = "site_id")
plots <- plots[plots$outcome == "harvested", ]

# Yield: corn in bushels of 56 lb at 15.5 % moisture, soybean of 60 lb at 13 %, cotton in pounds of lint (common practice)
acres <- with(plots, harvest_length_ft * ifelse(is.na(harvest_width_ft), rows_harvested * row_spacing_in / 12,
                                                harvest_width_ft)) / 43560
dry <- function(standard) (1 - plots$moisture_pct / 100) / (1 - standard)
plots$yield <- plots$harvest_weight_lb / acres * ifelse(plots$crop == "corn", dry(0.155) / 56,
  ifelse(plots$crop == "soybean", dry(0.13) / 60, plots$gin_turnout_fraction))

# Each trial's error variance from all its fertilized plots, moderated toward the crop's (Smyth 2004, section 6.2)
of_trial <- function(d) {
  fit <- lm(yield ~ factor(treatment_code) + factor(block), d[d$is_zero_n == "no", ])
  data.frame(trial_id = d$trial_id[1], variance = sigma(fit)^2, df = df.residual(fit))
}
squeeze <- function(s2, df) {
  logs <- log(s2) - digamma(df / 2) + log(df / 2)
  excess <- var(logs) - mean(trigamma(df / 2))
  if (excess <= 0) return(rep(sum(df * s2) / sum(df), length(s2)))
  d0 <- 2 * uniroot(function(h) trigamma(h) - excess, c(1e-4, 1e7), tol = 1e-12)$root
  (d0 * exp(mean(logs) + digamma(d0 / 2) - log(d0 / 2)) + df * s2) / (d0 + df)
}

# One gain per block: the mean difference over the named rates, and its variance in units of the plot variance
of_block <- function(d, treated, compared, rates) {
  by_rate <- lapply(rates, function(rate) {
    t <- d$yield[treated(d) & d$n_rate_lb_ac == rate]
    c <- d$yield[compared(d) & (d$n_rate_lb_ac == rate | d$is_zero_n == "yes")]
    c(gain = mean(t) - mean(c), factor = 1 / length(t) + 1 / length(c))
  })
  by_rate <- Filter(function(x) is.finite(x["factor"]), by_rate)
  if (!length(by_rate)) return(NULL)
  sums <- Reduce(`+`, by_rate)
  data.frame(d[1, c("trial_id", "place", "season", "block")], gain = sums[["gain"]] / length(by_rate),
             factor = sums[["factor"]] / length(by_rate)^2)
}
blend <- function(share) function(d) d$n_source == "coated blend" & d$coated_n_fraction == share & d$passes == 1
urea <- function(passes) function(d) d$n_source == "urea" & d$passes == passes
asked <- list(
  list("corn-c50-once-vs-urea-once", "corn", blend(0.5), urea(1), c(80, 120, 160)),
  list("corn-c50-once-vs-urea-split", "corn", blend(0.5), urea(2), c(80, 120, 160)),
  list("corn-c25-once-vs-urea-once", "corn", blend(0.25), urea(1), 120),
  list("corn-c75-once-vs-urea-once", "corn", blend(0.75), urea(1), 120),
  list("cotton-c50-once-vs-urea-once", "cotton", blend(0.5), urea(1), c(40, 70, 100)),
  list("cotton-c50-once-vs-urea-split", "cotton", blend(0.5), urea(2), c(40, 70, 100)),
  list("soybean-c50-once-vs-urea-once", "soybean", blend(0.5), urea(1), c(40, 80)),
  list("soybean-c50-once-vs-zero-n", "soybean", blend(0.5), function(d) d$is_zero_n == "yes", 80)
)
models <- c("seasons tested" = "gain ~ 1 + (1 | place) + (1 | site_year)",
            "seasons to come" = "gain ~ 1 + (1 | place) + (1 | season) + (1 | site_year)")

answers <- do.call(rbind, lapply(asked, function(a) {
  of_crop <- plots[plots$crop == a[[2]], ]
  analyses <- do.call(rbind, lapply(split(of_crop, of_crop$trial_id), of_trial))
  analyses$variance <- squeeze(analyses$variance, analyses$df)
  blocks <- lapply(split(of_crop, paste(of_crop$trial_id, of_crop$block)), of_block, a[[3]], a[[4]], a[[5]])
  blocks <- merge(do.call(rbind, blocks), analyses, by = "trial_id")
  blocks$site_year <- paste(blocks$place, blocks$season)
  do.call(rbind, lapply(names(models), function(target) {
    fit <- lmer(as.formula(models[[target]]), blocks, weights = 1 / (blocks$variance * blocks$factor))
    told <- summary(fit)$coefficients[1, ]
    data.frame(comparison_id = a[[1]], crop = a[[2]], target = target, estimate = told[["Estimate"]],
               std_error = told[["Std. Error"]], df = told[["df"]])
  }))
}))
versions <- sapply(c("lme4", "lmerTest"), function(p) paste(p, packageVersion(p)))
writeLines(paste0("# ", R.version.string, ", ", paste(versions, collapse = ", ")))
write.csv(answers, stdout(), row.names = FALSE, quote = FALSE)

for (crop in unique(answers$crop)) {
  d <- answers[answers$crop == crop, ]
  half <- qt(0.975, d$df) * d$std_error
  png(file.path(given[2], paste0(crop, ".png")), 1300, 800, res = 200)
  plot(d$estimate, seq_along(d$estimate), xlim = range(d$estimate - half, d$estimate + half), xlab = "gain", ylab = "")
  segments(d$estimate - half, seq_along(d$estimate), d$estimate + half)
  invisible(dev.off())
}
