# Fits every table <name>.csv of a folder by REML and writes <folder>/fits.csv: Rscript fits.R <folder>
# Columns: group, y, x1.. (fixed effects, the constant among them), z1.. (random effects).
suppressPackageStartupMessages(library(lme4))
folder <- commandArgs(trailingOnly = TRUE)[1]
rows <- list()
for (file in sort(list.files(folder, pattern = "^in_.*[.]csv$"))) {
  table <- read.csv(file.path(folder, file), colClasses = c(group = "character"))
  fixed <- grep("^x", names(table), value = TRUE)
  random <- grep("^z", names(table), value = TRUE)
  model <- as.formula(sprintf("y ~ 0 + %s + (0 + %s | group)",
                              paste(fixed, collapse = " + "), paste(random, collapse = " + ")))
  fit <- lmer(model, data = table, REML = TRUE, control = lmerControl(
    optimizer = "bobyqa", optCtrl = list(rhoend = 1e-10), calc.derivs = FALSE))
  spread <- as.matrix(VarCorr(fit)$group)
  found <- c(
    setNames(fixef(fit), paste0("beta_", fixed)),
    setNames(sqrt(diag(as.matrix(vcov(fit)))), paste0("se_", fixed)),
    setNames(sqrt(diag(spread)), paste0("sd_", random)),
    sigma = sigma(fit), criterion = unname(REMLcrit(fit)))
  rows[[file]] <- data.frame(
    fit = sub("^in_(.*)[.]csv$", "\\1", file), what = names(found), value = sprintf("%.15g", found))
}
write.csv(do.call(rbind, rows), file.path(folder, "fits.csv"), row.names = FALSE, quote = FALSE)
writeLines(sprintf("%s, lme4 %s", R.version.string, as.character(packageVersion("lme4"))),
           file.path(folder, "version.txt"))
