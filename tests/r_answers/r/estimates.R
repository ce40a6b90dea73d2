# Answers from R for the estimates. Run from the repository root:
#   Rscript tests/r_answers/r/estimates.R
# Rewrites tests/r_answers/{moderation,weighted_model,weighted_model_answers,fiducial,
# fiducial_answers}.csv; the first line of each names R and the packages.
# Debian: r-cran-lme4 r-cran-lmertest r-bioc-limma r-cran-metafor
suppressMessages({library(lme4); library(lmerTest); library(limma); library(metafor)})

source(file.path("tests", "r_answers", "r", "write_answers.R"))
packages <- c("lme4", "lmerTest", "limma", "metafor")

# Moderated variances: limma's squeezeVar, the author's own code for Smyth 2004.
set.seed(1)
moderation <- do.call(rbind, lapply(c(4, 9, 25), function(k) {
  df <- sample(c(4, 9, 15, 21), k, TRUE)
  variance <- 0.25 * exp(rnorm(k, 0, 1)) * rchisq(k, df) / df
  fit <- squeezeVar(variance, df)
  data.frame(case = k, variance, df, moderated = fit$var.post,
             prior_df = fit$df.prior, prior_variance = fit$var.prior)
}))
write_answers(moderation, "moderation", packages)

# A weighted crossed model, and the df of its total variance from lmerTest's own parts.
set.seed(2)
cells <- expand.grid(place = 1:6, season = 1:5)
rows <- cells[rep(seq_len(nrow(cells)), each = 4), ]
rows$site_year_id <- paste(rows$place, rows$season, sep = "-")
weight <- round(runif(nrow(cells), 0.5, 2), 3)
rows$weight <- rep(weight, each = 4)
rows$gain <- round(3 + rnorm(6)[rows$place] + rnorm(5)[rows$season] +
                   rep(rnorm(nrow(cells)), each = 4) + rnorm(nrow(rows)) * 2 / sqrt(rows$weight), 4)
rows$place <- paste0("p", rows$place); rows$season <- rows$season + 2090
write_answers(rows, "weighted_model", packages)
m <- lmerTest::lmer(gain ~ 1 + (1 | place) + (1 | season) + (1 | site_year_id), rows, weights = weight)
v <- as.data.frame(VarCorr(m)); component <- function(name) v$vcov[v$grp == name]
theta <- getME(m, "theta"); s <- sigma(m)
total <- sum(v$vcov[v$grp != "Residual"]) + vcov(m)[1, 1]
gradient <- c(2 * s^2 * theta, 2 * s * sum(theta^2)) + sapply(m@Jac_list, function(j) j[1, 1])
answers <- c(estimate = fixef(m)[[1]], std_error = sqrt(vcov(m)[1, 1]), df = contest1D(m, 1)$df,
             place = component("place"), season = component("season"),
             site_year_id = component("site_year_id"), residual = component("Residual"), reml = REMLcrit(m),
             total_variance = total, total_df = 2 * total^2 / drop(gradient %*% m@vcov_varpar %*% gradient))
write_answers(data.frame(quantity = names(answers), value = unname(answers)), "weighted_model_answers", packages)

# Prediction interval from the confidence distribution of tau2, by 400,000 plain draws:
# for each draw the tau2 at which metafor's generalised Q equals a chi-square draw is
# found on a fine grid by interpolation.
fiducial <- function(y, v, draws = 400000) {
  k <- length(y)
  at <- function(tau2) { w <- 1 / (v + tau2); m <- sum(w * y) / sum(w); c(sum(w * (y - m)^2), m, sum(w)) }
  grid <- c(0, exp(seq(log(1e-6), log(1e5), length.out = 20000)) * var(y))
  q <- sapply(grid, function(tau2) at(tau2)[1])
  target <- rchisq(draws, k - 1)
  tau2 <- ifelse(target >= q[1], 0, approx(rev(q), rev(grid), target, rule = 2, ties = "ordered")$y)
  parts <- sapply(grid, at)
  m <- approx(grid, parts[2, ], tau2)$y; sw <- approx(grid, parts[3, ], tau2)$y
  q1 <- approx(grid, parts[1, ], tau2)$y / (k - 1)
  centre <- rma(y, v, method = "PM", control = list(tol = 1e-12, maxiter = 1000))$beta[1]
  quantile(centre + sqrt(tau2) * rnorm(draws) - rt(draws, k - 1) * sqrt(q1 / sw), c(.025, .975), names = FALSE)
}
set.seed(3)
inputs <- do.call(rbind, lapply(c(6, 12, 30), function(k) {
  variance <- round(0.25 * rchisq(k, 6) / 6, 4)
  data.frame(case = k, gain = round(rnorm(k, 0.25, sqrt(0.3 + variance)), 4), variance)
}))
write_answers(inputs, "fiducial", packages)
found <- do.call(rbind, lapply(split(inputs, inputs$case), function(x) {
  interval <- fiducial(x$gain, x$variance); fit <- rma(gain, variance, data = x, method = "REML",
                                                       control = list(threshold = 1e-12, maxiter = 10000))
  data.frame(case = x$case[1], low = interval[1], high = interval[2], tau2_reml = fit$tau2)
}))
write_answers(found, "fiducial_answers", packages)
