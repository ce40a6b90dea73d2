# Answers from R for what a tested N rate loses against the rate that pays best. Run from the repository root:
#   Rscript tests/r_answers/r/rate_losses.R
# Rewrites tests/r_answers/{rate_losses_means,rate_losses_draws,rate_losses_answers}.csv; needs base R only.
# Every draw of whole site-years is written out as a table of its own, a site-year drawn twice standing in it twice under two
# names. nls() fits the quadratic-plateau with an intercept for each; the best rate is searched by optimize() on net return.
source(file.path("tests", "r_answers", "r", "write_answers.R"))
bend <- function(x, join) { m <- pmin(x, join); m - m^2 / (2 * join) }
set.seed(23)
rates <- c(0, 60, 120, 180, 240); n <- 8; ratio <- 6
means <- expand.grid(rate = rates, site_year = seq_len(n))
means$mean <- round(rnorm(n, 6000, 700)[means$site_year] +
                    rnorm(n, 55, 7)[means$site_year] * bend(means$rate, rnorm(n, 160, 15)[means$site_year]) +
                    rnorm(nrow(means), 0, 120), 1)
write_answers(means, "rate_losses_means")
draws <- t(sapply(1:40, function(i) tabulate(sample(n, n, replace = TRUE), n)))
draws <- rbind(rep(1, n), draws)  # the first is the data as they are
colnames(draws) <- paste0("site_year_", seq_len(n))
write_answers(data.frame(draw = seq_len(nrow(draws)) - 1, draws), "rate_losses_draws")
losses_of <- function(counts) {
  taken <- rep(seq_len(n), counts)
  d <- do.call(rbind, lapply(seq_along(taken), function(k) data.frame(means[means$site_year == taken[k], ], unit = k)))
  d$unit <- factor(d$unit)
  joins <- seq(61, 480, by = 1)
  at <- joins[which.min(sapply(joins, function(j) deviance(lm(mean ~ unit + bend(rate, j), d))))]
  first <- lm(mean ~ unit - 1 + bend(rate, at), d)
  start <- list(a = unname(coef(first)[seq_len(nlevels(d$unit))]), b = unname(tail(coef(first), 1)), join = at)
  fit <- nls(mean ~ a[unit] + b * bend(rate, join), d, start, algorithm = "port",
             control = nls.control(maxiter = 500, tol = 1e-9, warnOnly = TRUE))
  b <- coef(fit)[["b"]]; join <- coef(fit)[["join"]]
  net <- function(x) b * bend(x, join) - ratio * x
  best <- optimize(net, c(0, max(rates)), maximum = TRUE, tol = 1e-9)
  c(best$maximum, best$objective - net(rates[-1]))
}
answers <- t(apply(draws, 1, losses_of))
colnames(answers) <- c("best", paste0("loss_", rates[-1]))
write_answers(data.frame(draw = seq_len(nrow(draws)) - 1, ratio, answers), "rate_losses_answers")
