# The beets of Halekoh & Hojsgaard 2014, as the R package pbkrtest has them, and the F tests of their two models by lmerTest
# called directly (Satterthwaite's df). Run from the repository root:
#   Rscript tests/r_answers/r/beets.R
# Rewrites tests/r_answers/{beets,beets_answers}.csv; the first line of each names R and the packages.
# Debian: r-cran-pbkrtest r-cran-lmertest
source(file.path("tests", "r_answers", "r", "write_answers.R"))
packages <- c("pbkrtest", "lme4", "lmerTest")
data("beets", package = "pbkrtest")
write_answers(beets[c("block", "sow", "harvest", "yield", "sugpct")], "beets", packages)

answers <- do.call(rbind, lapply(c("sugpct", "yield"), function(response) {
  model <- lmerTest::lmer(as.formula(paste(response, "~ block + sow + harvest + (1 | block:harvest)")), beets)
  table <- anova(model)
  parts <- as.data.frame(lme4::VarCorr(model))
  data.frame(response = response, tested = rownames(table), f_stat = table[["F value"]], df1 = table$NumDF, df2 = table$DenDF,
             main_plot_variance = parts$vcov[1], residual_variance = parts$vcov[2])
}))
write_answers(answers, "beets_answers", packages)
