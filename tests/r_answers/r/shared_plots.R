# Answers from R for trials that come back on the same plots. Run from the repository root:
#   Rscript tests/r_answers/r/shared_plots.R
# Rewrites tests/r_answers/{shared_plots,shared_plots_answers}.csv; the first line of each names R and the packages.
# One stage by lme4 and lmerTest called directly, with a random intercept for blocks that come back; two stages by metafor's
# rma.mv with the full covariance of the site-year gains (Viechtbauer 2010, J. Stat. Softw. 36(3)); plain mean and share by hand.
# Debian: r-cran-lmertest r-cran-metafor
source(file.path("tests", "r_answers", "r", "write_answers.R"))
packages <- c("lme4", "lmerTest", "metafor")

set.seed(41)
sets <- data.frame(plot_set = rep(c("A", "B", "C"), c(4, 3, 3)), season = c(2091:2094, 2091:2093, 2092:2094), linked = TRUE)
single <- data.frame(plot_set = paste0("S", 1:5), season = c(2091, 2092, 2092, 2093, 2094), linked = FALSE)
trials <- rbind(sets, single)
trials$trial_id <- paste(trials$plot_set, trials$season, sep = "-")
trials$place <- trials$plot_set
trials$variance <- round(runif(nrow(trials), 6, 14), 2)
rows <- merge(trials, data.frame(block = 1:4))
rows <- rows[order(rows$trial_id, rows$block), ]
plots <- paste(rows$plot_set, rows$block)
lasting <- rnorm(length(unique(plots)), 0, 2.4); names(lasting) <- unique(plots)
own <- rnorm(nrow(trials), 0, 2); names(own) <- trials$trial_id
of_place <- rnorm(length(unique(rows$place)), 0, 1.5); names(of_place) <- unique(rows$place)
rows$gain <- round(7 + own[rows$trial_id] + of_place[rows$place] + lasting[plots] + rnorm(nrow(rows), 0, sqrt(rows$variance) * 0.7), 4)
write_answers(rows[c("trial_id", "plot_set", "season", "place", "block", "variance", "gain")], "shared_plots", packages)

rows$plots <- plots
weight <- 1 / rows$variance; rows$weight <- weight / mean(weight)
model <- lmerTest::lmer(gain ~ 1 + (1 | place) + (1 | trial_id) + (1 | plots), rows, weights = weight,
                        control = lme4::lmerControl(optCtrl = list(xtol_abs = 1e-9, ftol_abs = 1e-12)))
parts <- as.data.frame(lme4::VarCorr(model)); of <- function(name) parts$vcov[parts$grp == name]
one <- lmerTest::contest1D(model, 1)
answers <- data.frame(quantity = c("estimate", "std_error", "df", "place", "site_year_id", "plots", "residual"),
                      value = c(lme4::fixef(model)[[1]], sqrt(vcov(model)[1, 1]), one$df, of("place"), of("trial_id"), of("plots"), of("Residual")))

# the share that lasts, from products of a block's errors in two years; then the covariance of site-year gains
is_set <- rows$plot_set %in% c("A", "B", "C")
error <- with(rows[is_set, ], (gain - ave(gain, trial_id)) / sqrt(variance))
by_block <- split(error, plots[is_set])
products <- sum(sapply(by_block, function(e) sum(outer(e, e)) - sum(e^2)))
pairs <- sum(sapply(by_block, function(e) length(e) * (length(e) - 1))) * (1 - 1 / 4)
share <- products / pairs / (sum(error^2) / (length(error) * (1 - 1 / 4)))
y <- tapply(rows$gain, rows$trial_id, mean); v <- trials$variance[match(names(y), trials$trial_id)] / 4
set <- trials$plot_set[match(names(y), trials$trial_id)]
V <- share * sqrt(outer(v, v)) * outer(set, set, "=="); diag(V) <- v
two <- metafor::rma.mv(as.numeric(y), V, random = ~ 1 | id, data = data.frame(id = names(y)), method = "REML",
                       control = list(optimizer = "optim", optmethod = "BFGS", reltol = 1e-15))
x <- solve(two$sigma2 * diag(length(y)) + V)
q <- drop(t(y - two$b[1]) %*% x %*% (y - two$b[1])) / (length(y) - 1)
off <- V - diag(diag(V)); n <- length(y); c_mean <- sum(off) / (n * (n - 1))
answers <- rbind(answers, data.frame(
  quantity = c("share", "two_stage_estimate", "two_stage_tau2", "two_stage_std_error", "two_stage_q", "knapp_hartung_std_error", "plain_estimate", "plain_std_error"),
  value = c(share, two$b[1], two$sigma2, two$se, two$QE, two$se * sqrt(max(1, q)), mean(y), sqrt(var(y) / n + c_mean))))
write_answers(answers, "shared_plots_answers", packages)
