//! A lower price afterwards: what stays on the shelf, and what was issued, each bear it by what they cost.

use serde_json::Value;

use super::super::reckoning::{cents, shared_cents};
use super::layers::{Layer, Lot, Why};
use super::{OVERHEAD, Of, PIECE, Shelf};

/// Who carries some of a lot's cost: the shelf where nobody is named.
struct Bearer {
    holder: Option<String>,
    /// The year that deducted it, where one did.
    year: Option<String>,
    cents: i64,
}

fn year(date: &str) -> String {
    date[..4].to_owned()
}

/// A piece may be for resale or not, so that its years are nobody's to know here.
fn deducted(holder: &str, date: &str) -> Option<String> {
    (!holder.starts_with(PIECE)).then(|| year(date))
}

impl Shelf {
    fn lot_of(&self, purchase: &str, line: &Value) -> Option<&Lot> {
        let place = (purchase.to_owned(), line["line"].as_i64().unwrap());
        let id = self.lines.get(&place)?;
        self.lots.iter().find(|lot| lot.id == *id)
    }

    /// Whether it can be said here who bears a rebate: what a piece took in two years is one cost or two, by what the piece
    /// was for, and what a piece still bears after a rebate depends on whether it had been sold.
    pub(in crate::verify::random_books) fn knows_years(&self, purchase: &str, line: &Value) -> bool {
        let Some(lot) = self.lot_of(purchase, line) else { return true };
        let with_pieces: Vec<_> = lot
            .moves
            .iter()
            .filter(|one| one.holder.as_deref().is_some_and(|holder| holder.starts_with(PIECE)))
            .collect();
        with_pieces
            .iter()
            .all(|one| one.why != Why::PassedOn && year(&one.date) == year(&with_pieces[0].date))
    }

    /// The shelf first, then whoever took of it, the earlier before the later.
    fn bearers(&self, lot: &Lot) -> Vec<Bearer> {
        let at_once = self.deducts_at_once.then(|| year(&lot.came_on));
        let mut found = vec![Bearer { holder: None, year: at_once, cents: lot.left().cents }];
        let mut moves: Vec<_> = lot.moves.iter().collect();
        moves.sort_by_key(|one| &one.date);
        for one in moves {
            if matches!(one.why, Why::ToVendor | Why::Rebate | Why::FoundOver) {
                continue;
            }
            let holder = one.holder.clone().unwrap_or(OVERHEAD.to_owned());
            let day = if self.deducts_at_once { &lot.came_on } else { &one.date };
            let year = deducted(&holder, day);
            let mut cents = one.layer.cents;
            if cents < 0 {
                let holder = Some(holder);
                match found.iter_mut().find(|had| had.holder == holder && had.year == year) {
                    Some(had) => had.cents -= cents,
                    None => found.push(Bearer { holder, year, cents: -cents }),
                }
                continue;
            }
            // What came back, or became cheaper, is less of the latest year first.
            for had in found.iter_mut().rev().filter(|had| had.holder.as_ref() == Some(&holder)) {
                let part = cents.min(had.cents);
                had.cents -= part;
                cents -= part;
            }
        }
        found
    }

    /// What another year deducted stays as it cost, and is income.
    pub(super) fn is_rebated(&mut self, id: &str, of: Of<'_>, line: &Value) {
        let lot = self.lots.iter().find(|lot| lot.id == id).unwrap();
        let mut bearers = self.bearers(lot);
        if let Some(episode) = line["episode"].as_str() {
            bearers.retain(|one| one.holder.as_deref() == Some(episode));
        }
        let weights: Vec<i64> = bearers.iter().map(|one| one.cents).collect();
        let parts = shared_cents(cents(&line["amount"]), &weights);
        for (bearer, cents) in bearers.into_iter().zip(parts) {
            if cents == 0 || bearer.year.is_some_and(|deducted| deducted != year(of.date)) {
                continue;
            }
            let part = Layer { quantity: 0, cents };
            self.moves(id, of, Why::Rebate, part.negated(), None);
            if let Some(holder) = bearer.holder {
                self.moves(id, of, Why::PassedOn, part, Some(&holder));
            }
        }
    }
}
