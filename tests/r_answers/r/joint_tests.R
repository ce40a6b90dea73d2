# Answers from R for F tests of several contrasts together. Run from the repository root:
#   Rscript tests/r_answers/r/joint_tests.R
# Rewrites tests/r_answers/{joint_tests,joint_tests_answers}.csv; the first line of each names R and the packages.
# F by car::linearHypothesis (Fox & Weisberg 2019, An R Companion to Applied Regression, 3rd ed.), which solves L V L' and uses
# no eigenvectors; where nothing is lost also by pbkrtest::KRmodcomp (Halekoh & Hojsgaard 2014, J. Stat. Softw. 59(9)) and by aov.
# Debian: r-cran-lme4 r-cran-car r-cran-pbkrtest
source(file.path("tests", "r_answers", "r", "write_answers.R"))
packages <- c("lme4", "car", "pbkrtest")

drawn <- function(case, seed, n_blocks, lost) {
  set.seed(seed)
  rows <- expand.grid(block = paste0("b", seq_len(n_blocks)), level = c("k", "l", "m", "n"), stringsAsFactors = FALSE)
  # kg/ha, as yields are: with small numbers R takes the rounding of L V L' for nothing and sees a symmetric matrix
  rows$y <- round(9000 + rnorm(n_blocks, 0, 700)[as.integer(factor(rows$block))] + rnorm(nrow(rows), 0, 500), 1)
  cbind(case = case, if (length(lost)) rows[-lost, ] else rows)
}
frame <- rbind(do.call(rbind, lapply(1:12, function(seed) drawn(paste0("balanced", seed), seed, 6, integer()))),
               drawn("unbalanced1", 21, 6, c(1, 9, 20)), drawn("unbalanced2", 22, 5, c(2, 3, 4, 13)))
write_answers(frame, "joint_tests", packages)

answers <- do.call(rbind, lapply(split(frame, frame$case), function(rows) {
  rows$level <- factor(rows$level)
  model <- lme4::lmer(y ~ 0 + level + (1 | block), rows, control = lme4::lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12)))
  contrast <- cbind(1, -diag(3))
  wald <- car::linearHypothesis(model, contrast, test = "Chisq")$Chisq[2] / 3
  balanced <- startsWith(rows$case[1], "balanced") && !lme4::isSingular(model)
  intercept <- lme4::lmer(y ~ level + (1 | block), rows)
  kr <- if (balanced) pbkrtest::KRmodcomp(intercept, cbind(0, diag(3)))$test$stat[1] else NA
  table <- if (balanced) summary(aov(y ~ factor(block) + level, rows))[[1]][2, "F value"] else NA
  data.frame(case = rows$case[1], f_stat = wald, f_kenward_roger = kr, f_aov = table)
}))
write_answers(answers, "joint_tests_answers", packages)
