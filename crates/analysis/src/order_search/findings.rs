//! What a search found, in sentences.

use tallyhouse_words::{count, exact_percent, list, list_or};

use super::measured::more;
use super::{AGREEMENT_MARGIN, CostDifference, OrderReport, RECOMMENDED, ReportedOrder};

/// Names an order of a search for readers: the start also by its own name. What runs of a search do not
/// agree on is not called recommended, and an order that is best in training alone is called so.
#[must_use]
pub fn order_label(name: &str, start: &str, converged: bool, on_frontier: bool) -> String {
    match name {
        "start" => format!("{start} (start)"),
        RECOMMENDED if !converged => "cheapest found".to_owned(),
        _ if name.starts_with("frontier ") && !on_frontier => {
            format!("{name} (in training only)")
        }
        _ => name.to_owned(),
    }
}

impl OrderReport {
    /// Returns what was found, most important first: the saving, for whom it holds, and whether the
    /// search has converged. Clauses that begin in lower case and end without a stop.
    #[must_use]
    pub fn findings(&self) -> Vec<String> {
        let saving = [self.saving()].into_iter().chain(self.robustness());
        saving.chain([self.convergence()]).collect()
    }

    /// Names the order whose steps are told.
    #[must_use]
    pub fn best_name(&self) -> String {
        match self.recommended.against_start {
            None => self.start_name.clone(),
            Some(_) if self.agreement.converged => "the recommended order".to_owned(),
            Some(_) => "the cheapest order found".to_owned(),
        }
    }

    /// Names an order of the search for readers.
    #[must_use]
    pub fn label(&self, order: &ReportedOrder) -> String {
        order_label(&order.name, &self.start_name, self.agreement.converged, order.on_frontier)
    }

    /// Says what was counted, and on which puzzles.
    #[must_use]
    pub fn basis(&self) -> String {
        format!(
            "Measured on {} held-out puzzles ({}); chosen on {} others among {} orders. Glances are means \
             per puzzle on the one-by-one walk; intervals are {}.",
            count(self.held_out_puzzles),
            self.population,
            count(self.training_puzzles),
            count(self.evaluations.made),
            self.level
        )
    }

    fn saving(&self) -> String {
        let start = &self.start_name;
        let Some(compared) = &self.recommended.against_start else {
            return format!(
                "no order was found that costs less than {start} and looks for as much"
            );
        };
        let [found, old] = [&self.recommended, &self.start].map(|order| &order.held_out);
        format!(
            "{} costs {} than {start} and looks for all that {start} looks for: {} \
             glances a puzzle instead of {}, with {} of {} held-out puzzles fully reached instead of {}",
            self.best_name(),
            compared.cost.less_or_more(),
            found.glances_words(),
            old.glances_words(),
            count(found.reached.hits()),
            count(self.held_out_puzzles),
            count(old.reached.hits())
        )
    }

    fn robustness(&self) -> Option<String> {
        let order = &self.recommended;
        let compared = |price: &'_ super::ReaderPrice| price.against_start.clone();
        let prices: Vec<(&str, CostDifference)> = order
            .readers
            .iter()
            .filter_map(|price| Some((price.reader.as_str(), compared(price)?)))
            .collect();
        let costs = prices.iter().map(|(reader, cost)| format!("{reader} {}", cost.less_or_more()));
        let costs = list(costs);
        let dear = prices.iter().filter(|(_, cost)| !cost.saves()).map(|(reader, _)| *reader);
        let dear: Vec<&str> = dear.collect();
        Some(match (order.robust?, dear.as_slice()) {
            (true, _) => format!(
                "the saving is robust: whoever reads saves glances, and no fewer puzzles are fully \
                 reached; it costs {costs}"
            ),
            (false, []) => format!(
                "the saving is not robust: whoever reads saves glances, but fewer puzzles are fully \
                 reached; it costs {costs}"
            ),
            (false, readers) => format!(
                "the saving is not robust: none is shown for {}; it costs {costs}",
                list_or(readers)
            ),
        })
    }

    fn convergence(&self) -> String {
        let (agreement, margin) = (&self.agreement, exact_percent(AGREEMENT_MARGIN));
        let reaches = agreement.reaches.len();
        let widest = |words: &str| {
            let widest = agreement.widest();
            widest.map_or_else(String::new, |widest| format!("{words}{}", more(&widest).percent()))
        };
        if agreement.converged {
            return format!(
                "the search has converged: at each of {reaches} reaches the best orders of {} runs cost \
                 the same within {margin}{}; better orders may still exist",
                self.runs,
                widest("; the farthest apart differ by ")
            );
        }
        if agreement.apart().next().is_none() {
            return format!(
                "the search has not converged: {} evaluations for each run are no more than where it \
                 begins",
                count(self.evaluations_each)
            );
        }
        format!(
            "the search has not converged: at {} of {reaches} reaches the best orders of {} runs are not \
             shown to cost the same within {margin}{}; more evaluations than {} for each run may bring \
             them together",
            agreement.apart().count(),
            self.runs,
            widest("; the farthest apart differ by "),
            count(self.evaluations_each)
        )
    }
}
