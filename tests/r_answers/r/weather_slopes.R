# Answers from R for the slope of the gain on a weather covariate. Run from the repository root:
#   Rscript tests/r_answers/r/weather_slopes.R
# Rewrites tests/r_answers/{weather_slopes,weather_slopes_answers}.csv; the first line of each names R and the packages.
# One stage by lme4 and lmerTest called directly: the covariate centered, and in its parts within and between seasons, with and
# without a random season. Two stages by metafor's rma with the Knapp-Hartung error (Viechtbauer 2010, J. Stat. Softw. 36(3)).
# Debian: r-cran-lmertest r-cran-metafor
source(file.path("tests", "r_answers", "r", "write_answers.R"))
packages <- c("lme4", "lmerTest", "metafor")

set.seed(61)
trials <- expand.grid(place = paste0("P", 1:7), season = 2091:2095, stringsAsFactors = FALSE)
trials <- trials[-c(3, 11, 20, 34), ]
trials$site_year_id <- paste(trials$place, trials$season, sep = "-")
trials$variance <- round(runif(nrow(trials), 6, 14), 2)
of_season <- rnorm(5, 0, 25); names(of_season) <- 2091:2095
trials$x <- round(90 + of_season[as.character(trials$season)] + rnorm(nrow(trials), 0, 20), 1)
season <- rnorm(5, 0, 2); names(season) <- 2091:2095
place <- rnorm(7, 0, 3); names(place) <- paste0("P", 1:7)
true <- 6 + 0.05 * trials$x + season[as.character(trials$season)] + place[trials$place] + rnorm(nrow(trials), 0, 2)
rows <- merge(cbind(trials, true), data.frame(block = 1:4))
rows <- rows[order(rows$site_year_id, rows$block), ]
rows$gain <- round(rows$true + rnorm(nrow(rows), 0, sqrt(rows$variance)), 4)
write_answers(rows[c("site_year_id", "place", "season", "x", "variance", "block", "gain")], "weather_slopes", packages)

rows$weight <- 1 / rows$variance / mean(1 / rows$variance)
center <- mean(trials$x)
mean_of <- tapply(trials$x, trials$season, mean)
rows$slope <- rows$x - center
rows$between <- mean_of[as.character(rows$season)] - center
rows$within <- rows$x - mean_of[as.character(rows$season)]
fit <- function(formula) lmerTest::lmer(formula, rows, weights = weight,
                                        control = lme4::lmerControl(optCtrl = list(xtol_abs = 1e-10, ftol_abs = 1e-13)))
told <- function(model, name) {
  table <- coef(summary(model))
  data.frame(model = name, term = rownames(table), estimate = table[, "Estimate"], std_error = table[, "Std. Error"], df = table[, "df"])
}
answers <- rbind(
  told(fit(gain ~ slope + (1 | place) + (1 | site_year_id)), "seasons tested"),
  told(fit(gain ~ slope + (1 | place) + (1 | season) + (1 | site_year_id)), "seasons to come"),
  told(fit(gain ~ within + between + (1 | place) + (1 | season) + (1 | site_year_id)), "parts"))

y <- tapply(rows$gain, rows$site_year_id, mean)
of <- trials[match(names(y), trials$site_year_id), ]
two <- metafor::rma(as.numeric(y), of$variance / 4, mods = ~ I(of$x - center), test = "knha",
                    control = list(threshold = 1e-13, maxiter = 1000))
answers <- rbind(answers, data.frame(model = "two-stage", term = c("(Intercept)", "slope"), estimate = two$b[, 1],
                                     std_error = two$se, df = two$ddf),
                 data.frame(model = "two-stage", term = "tau2", estimate = two$tau2, std_error = NA, df = NA))
for (curve in c(FALSE, TRUE)) {
  mods <- if (curve) ~ I(of$x - center) + I((of$x - center)^2) else ~ I(of$x - center)
  full <- metafor::rma(as.numeric(y), of$variance / 4, mods = mods, method = "ML", control = list(threshold = 1e-13, maxiter = 1000))
  answers <- rbind(answers, data.frame(model = "aicc", term = if (curve) "curve" else "line",
                                       estimate = metafor::fitstats(full)["AICc:", ], std_error = NA, df = NA))
}
write_answers(answers, "weather_slopes_answers", packages)
