# Answers from R for the model of gains by N rate. Run from the repository root:
#   Rscript tests/r_answers/r/rates.R
# Rewrites tests/r_answers/{rates,rates_answers}.csv; the first line of each names R and the packages.
# nlme is other code than the pipeline's lme4 (Pinheiro & Bates 2000, Mixed-Effects Models in S and S-PLUS, section 4.2: nested
# random effects; 5.2: variance functions). Debian: r-cran-nlme r-cran-lme4
library(nlme)

source(file.path("tests", "r_answers", "r", "write_answers.R"))
packages <- c("nlme", "lme4")

set.seed(12)
rows <- expand.grid(block = 1:4, rate = c(90, 135, 180), site = 1:14)
rows <- rows[!(rows$site %% 5 == 0 & rows$rate == 180), ]  # site-years without the highest rate
rows$site_year_id <- paste0("s", sprintf("%02d", rows$site))
variance <- round(runif(14, 0.4, 2), 3)
rows$variance <- variance[rows$site]
cell <- interaction(rows$site, rows$rate, drop = TRUE)
rows$gain <- round(2 + 0.03 * (rows$rate - 90) + rnorm(14, 0, 1)[rows$site] + rnorm(nlevels(cell), 0, 0.8)[cell] +
                   rnorm(nrow(rows), 0, sqrt(rows$variance)), 4)
# the same with an error that all rates of a block share, as main plots give it
shared <- interaction(rows$site, rows$block, drop = TRUE)
rows$gain_main_plots <- round(rows$gain + rnorm(nlevels(shared), 0, 0.9)[shared], 4)
write_answers(rows[c("site_year_id", "block", "rate", "variance", "gain", "gain_main_plots")], "rates", packages)

rows$rate <- factor(rows$rate); rows$site_year_id <- factor(rows$site_year_id)
contrast <- rbind(c(1, -1, 0), c(1, 0, -1))
wald <- function(b, v) { d <- contrast %*% b; drop(t(d) %*% solve(contrast %*% v %*% t(contrast)) %*% d) / nrow(contrast) }
told <- function(model, b, v, variances) data.frame(
  model = model, quantity = c(paste0("estimate", levels(rows$rate)), paste0("std_error", levels(rows$rate)), "f_stat", names(variances)),
  value = c(b, sqrt(diag(v)), wald(b, v), variances))

nested <- lme(gain ~ 0 + rate, random = ~ 1 | site_year_id / rate, weights = varFixed(~ variance), data = rows, method = "REML",
              control = lmeControl(opt = "optim", maxIter = 500, msMaxIter = 500, reltol = 1e-14, msTol = 1e-12, tolerance = 1e-12))
parts <- suppressWarnings(as.numeric(VarCorr(nested)[, "Variance"]))  # heading, site-year, heading, site-year x rate, residual
w <- 1 / rows$variance
answers <- told("nested", fixef(nested), vcov(nested), c(site_year_id = parts[2], site_year_rate = parts[4], residual = parts[5] / mean(w)))

rows$w <- w / mean(w)
crossed <- lme4::lmer(gain_main_plots ~ 0 + rate + (1 | site_year_id) + (1 | site_year_id:rate) + (1 | site_year_id:block), rows, weights = w,
                      control = lme4::lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12)))
found <- as.data.frame(lme4::VarCorr(crossed)); of <- function(name) found$vcov[found$grp == name]
answers <- rbind(answers, told("crossed", lme4::fixef(crossed), as.matrix(vcov(crossed)), c(
  site_year_id = of("site_year_id"), site_year_rate = of("site_year_id:rate"), trial_block = of("site_year_id:block"), residual = of("Residual"))))
write_answers(answers, "rates_answers", packages)
