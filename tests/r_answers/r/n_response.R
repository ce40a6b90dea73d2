# Answers from R for N response curves. Run from the repository root:
#   Rscript tests/r_answers/r/n_response.R
# Rewrites tests/r_answers/{n_response_plots,n_response_answers}.csv; needs base R only.
# nls() with a block effect each, from a start near the known truth; profiles by refitting with the join (or
# the economic optimum, put into the curve as a parameter) held fixed; Fieller by inverting a t test.
source(file.path("tests", "r_answers", "r", "write_answers.R"))
bend <- function(x, join) { m <- pmin(x, join); m - m^2 / (2 * join) }

set.seed(11)
ladder <- function(case, rates, blocks, join, slope, sd, lost = 0) {
  plots <- expand.grid(rate = rates, block = seq_len(blocks))
  plots$value <- round(6000 + rnorm(blocks, 0, 350)[plots$block] + slope * bend(plots$rate, join) +
                       rnorm(nrow(plots), 0, sd), 1)
  if (lost > 0) plots <- plots[-sample(nrow(plots), lost), ]
  data.frame(case, plots)
}
plots <- rbind(ladder("corn: five rates", c(0, 60, 120, 180, 240), 4, 160, 55, 500),
               ladder("corn: four rates", c(0, 80, 120, 200), 5, 130, 60, 250),
               ladder("corn: lost plots", c(0, 40, 80, 120, 160, 200), 4, 140, 50, 450, lost = 4),
               ladder("cotton", c(0, 40, 70, 100, 130), 4, 85, 6, 40))
write_answers(plots, "n_response_plots")

ratio_of <- c("corn: five rates" = 6, "corn: four rates" = 6, "corn: lost plots" = 9, "cotton" = 0.6)
answers_of <- function(d, ratio) {
  d$block <- factor(d$block); n <- nrow(d); p <- nlevels(d$block) + 2; df <- n - p
  rss <- function(join, h = bend) deviance(lm(value ~ block + h(rate, join), d))
  grid <- seq(sort(unique(d$rate))[2], max(d$rate), length.out = 501)
  start_at <- function(h) {
    join <- grid[which.min(sapply(grid, rss, h = h))]
    fit <- lm(value ~ block - 1 + h(rate, join), d)
    list(a = unname(coef(fit)[seq_len(nlevels(d$block))]), b = unname(tail(coef(fit), 1)), join = join)
  }
  loose <- nls.control(maxiter = 500, tol = 1e-7, warnOnly = TRUE)
  qp <- nls(value ~ a[block] + b * bend(rate, join), d, start_at(bend), control = loose, algorithm = "port")
  lp <- nls(value ~ a[block] + b * pmin(rate, join), d, start_at(pmin), control = loose, algorithm = "port")
  q <- lm(value ~ block + rate + I(rate^2), d)
  est <- coef(qp); b <- est[["b"]]; join <- est[["join"]]; sse <- deviance(qp)
  limit <- sse * (1 + qf(.95, 1, df) / df); wide <- 1000 * max(d$rate)
  root <- function(f, from, to) if (f(from) * f(to) > 0) NA else uniroot(f, c(from, to), tol = 1e-9)$root
  excess <- function(j) rss(j) - limit
  # The economic optimum N as a parameter: b = ratio join / (join - N); the best join above N.
  blocks <- model.matrix(~ block, d)
  held <- function(N) {
    at <- function(j) sum(lm.fit(blocks, d$value - ratio * j / (j - N) * bend(d$rate, j))$residuals^2)
    joins <- seq(max(N, 1) + 0.01, 2 * max(d$rate), length.out = 500)
    k <- which.min(sapply(joins, at))
    optimize(at, joins[c(max(k - 1, 1), min(k + 1, length(joins)))], tol = 1e-9)$objective - limit
  }
  eonr <- join * (1 - ratio / b)
  c2 <- coef(q)[["I(rate^2)"]]; b2 <- coef(q)[["rate"]]; v <- vcov(q)[c("rate", "I(rate^2)"), c("rate", "I(rate^2)")]
  slope_t <- function(N) (b2 + 2 * c2 * N - ratio)^2 / (v[1, 1] + 4 * N * v[1, 2] + 4 * N^2 * v[2, 2]) - qt(.975, df)^2
  top <- (ratio - b2) / (2 * c2)
  data.frame(ratio, b, join, sse, aicc = AIC(qp) + 2 * (p + 1) * (p + 2) / (n - p - 2),
             join_std_error = summary(qp)$coefficients["join", 2],
             aonr_low = root(excess, grid[1], join), aonr_high = root(excess, join, wide),
             eonr, eonr_low = root(held, 0, eonr), eonr_high = root(held, eonr, max(d$rate)),
             lp_b = coef(lp)[["b"]], lp_join = coef(lp)[["join"]], lp_sse = deviance(lp),
             q_b = b2, q_c = c2, q_sse = deviance(q), q_eonr = top,
             q_eonr_low = root(slope_t, 0, top), q_eonr_high = root(slope_t, top, 4 * max(d$rate)))
}
cases <- unique(plots$case)
answers <- do.call(rbind, lapply(cases, function(case) {
  data.frame(case, answers_of(plots[plots$case == case, ], ratio_of[[case]]))
}))
write_answers(answers, "n_response_answers")
