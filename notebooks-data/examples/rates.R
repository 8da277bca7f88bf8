# How often each shape of subset occurs: rates per house and shares of puzzles, with base R.
# Reads the CSV tables alone: base R has no reader for Parquet. Run it as: Rscript rates.R
# So the counts are taken as they are; the rates and Wilson's intervals are computed here.

script <- sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE))
tables <- file.path(dirname(normalizePath(script)), "..")
read <- function(name) read.csv(file.path(tables, name), encoding = "UTF-8")

check <- function(name, differing) {
  if (nrow(differing) > 0) {
    print(differing)
    stop(name, " differs from what this script finds", call. = FALSE)
  }
}

# The share of n puzzles with Wilson's 95 % interval; the puzzle is the unit.
with_wilson <- function(table, n) {
  z <- qnorm(0.975)
  p <- table$puzzles / n
  half <- z * sqrt(p * (1 - p) / n + z^2 / (4 * n^2))
  centre <- p + z^2 / (2 * n)
  scale <- 1 + z^2 / n
  cbind(table, share = p, low = (centre - half) / scale, high = (centre + half) / scale)
}

# Each puzzle of the collection is counted once under its number of clues.
clues <- read("clues.csv")
n <- sum(clues$count[clues$distribution == "this collection"])

table <- merge(read("counts.csv"), read("exposure.csv"), by = "open")
table$rate <- 1000 * table$proper / table$houses
table <- with_wilson(table[order(table$open, table$naked), ], n)

shape <- c("open", "naked")
both <- merge(table, read("shares.csv"), by = shape, all = TRUE, suffixes = c("", "_csv"))
same <- both$puzzles == both$puzzles_csv
check("shares.csv", both[is.na(same) | !same, ])
wilson <- both[both$method == "Wilson", ]
gap <- pmax(
  abs(wilson$share - wilson$share_csv),
  abs(wilson$low - wilson$low_csv),
  abs(wilson$high - wilson$high_csv)
)
check("shares.csv", wilson[!(gap < 1e-9), ])

cat("open naked  houses  proper per 1,000 puzzles   share     low    high\n")
with(
  table[table$proper > 0, ],
  cat(sprintf(
    "%4d %5d %7d %7d %9.2f %7d %7.5f %7.5f %7.5f\n",
    open, naked, houses, proper, rate, puzzles, share, low, high
  ), sep = "")
)
cat(nrow(wilson), "Wilson intervals agree with shares.csv\n")
