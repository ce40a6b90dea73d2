# Answers from R for seasons to come. Run from the repository root:
#   Rscript tests/r_answers/r/seasons_to_come.R
# Rewrites tests/r_answers/{clustered_mean,clustered_mean_answers,prediction,prediction_answers}.csv;
# the first line of each names R and the packages.
# Debian: r-cran-lme4 r-cran-lmertest r-cran-metafor r-cran-clubsandwich
suppressMessages({library(lme4); library(lmerTest); library(metafor); library(clubSandwich)})

source(file.path("tests", "r_answers", "r", "write_answers.R"))
packages <- c("lme4", "lmerTest", "metafor", "clubSandwich")

# Means clustered by season: clubSandwich's CR2 with Satterthwaite df on metafor's REML fit.
set.seed(4)
layouts <- list(alike = rep(8, 4), unequal = c(1, 9, 10, 11, 12), three = c(2, 5, 3), few = c(1, 1, 2, 2))
rows <- do.call(rbind, lapply(names(layouts), function(case) {
  season <- rep(2090 + seq_along(layouts[[case]]), layouts[[case]])
  variance <- if (case == "alike") rep(1, length(season)) else round(0.5 + rchisq(length(season), 4) / 4, 4)
  effect <- rnorm(length(layouts[[case]]))
  data.frame(case, season, variance,
             gain = round(2 + effect[season - 2090] + rnorm(length(season), 0, sqrt(1 + variance)), 4))
}))
write_answers(rows, "clustered_mean", packages)
write_answers(do.call(rbind, lapply(split(rows, rows$case), function(x) {
  fit <- rma(gain, variance, data = x, method = "REML", control = list(threshold = 1e-13, maxiter = 10000))
  found <- coef_test(fit, vcov = "CR2", cluster = x$season, test = "Satterthwaite")
  data.frame(case = x$case[1], tau2 = fit$tau2, estimate = found$beta, std_error = found$SE, df = found$df_Satt)
})), "clustered_mean_answers", packages)

# Prediction interval of a crossed model: mean -+ t sqrt(all variances + SE^2), df by Satterthwaite of
# that total, kept between max(seasons - 1, 2) and site-years - 2. Cases are chosen so that
# neither bound, the lower, and the upper one hold, and one has a variance of zero.
predicted <- function(x) {
  weight <- 1 / x$variance; x$w <- weight / mean(weight)
  # run to its end: by default lme4 stops short of the optimum where the criterion is flat
  m <- suppressMessages(lmerTest::lmer(gain ~ 1 + (1 | place) + (1 | season) + (1 | site_year_id), x, weights = w,
                                       control = lmerControl(optCtrl = list(xtol_abs = 1e-10, xtol_rel = 0, ftol_abs = 1e-12, ftol_rel = 0))))
  theta <- getME(m, "theta"); s <- sigma(m); tau2 <- s^2 * sum(theta^2); total <- tau2 + vcov(m)[1, 1]
  # lmerTest's variance parameters are theta and sigma; Jac_list: derivatives of the mean's variance by them
  gradient <- c(2 * s^2 * theta, 2 * s * sum(theta^2)) + sapply(m@Jac_list, function(j) j[1, 1])
  df <- 2 * total^2 / drop(gradient %*% m@vcov_varpar %*% gradient)
  k <- length(unique(x$site_year_id))
  clipped <- min(max(df, length(unique(x$season)) - 1, 2), k - 2)
  half <- qt(0.975, clipped) * sqrt(total); mean <- fixef(m)[[1]]
  data.frame(case = x$case[1], mean, tau2, least_variance = s^2 * min(theta)^2, df, clipped,
             low = mean - half, high = mean + half)
}
crossed <- function(case, seed, places, seasons, keep, sd) {
  set.seed(seed)
  cells <- expand.grid(place = seq_len(places), season = seq_len(seasons))
  cells <- cells[sort(sample(nrow(cells), keep)), ]
  cells$true <- rnorm(places, 0, sd[1])[cells$place] + rnorm(seasons, 0, sd[2])[cells$season] + rnorm(keep, 0, sd[3])
  cells$variance <- round(runif(keep, 0.5, 2), 3)
  x <- cells[rep(seq_len(keep), each = 4), ]
  data.frame(case, place = paste0("p", x$place), season = 2090 + x$season,
             site_year_id = paste(x$place, x$season, sep = "-"), variance = x$variance,
             gain = round(3 + x$true + rnorm(nrow(x), 0, sqrt(x$variance)), 4))
}
rows <- rbind(crossed("between", 11, 8, 4, 24, c(1, 1, 1)), crossed("lower", 12, 6, 4, 20, c(0.3, 4, 0.3)),
              crossed("upper", 13, 6, 3, 8, c(0.3, 0.3, 3)), crossed("zero", 14, 8, 4, 24, c(0, 1, 1.5)))
write_answers(rows, "prediction", packages)
write_answers(do.call(rbind, lapply(split(rows, rows$case), predicted)), "prediction_answers", packages)
