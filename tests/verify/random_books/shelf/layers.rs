//! A lot as a layer of stock: what is in it on a day, and what a part of it costs.

use super::super::reckoning::half_up;

/// A quantity in millionths of the lot's unit with what it cost, in cents.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::verify::random_books) struct Layer {
    pub quantity: i128,
    pub cents: i64,
}

impl Layer {
    pub fn plus(self, other: Self) -> Self {
        Self { quantity: self.quantity + other.quantity, cents: self.cents + other.cents }
    }

    pub fn negated(self) -> Self {
        Self { quantity: -self.quantity, cents: -self.cents }
    }

    /// The cost goes with the quantity, rounded once; the last of it takes what is left.
    pub fn part(self, quantity: i128) -> Self {
        assert!(quantity <= self.quantity, "{quantity} was taken of {self:?}");
        if quantity == self.quantity {
            return self;
        }
        let cents = half_up(i128::from(self.cents) * quantity, self.quantity.max(1));
        Self { quantity, cents }
    }
}

/// Why something of a lot moved.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Why {
    Issued,
    CameBack,
    /// Wasted, or missing at a count.
    Lost,
    FoundOver,
    ToVendor,
    Rebate,
    /// A rebate makes cheaper what was issued.
    PassedOn,
}

/// What a record put into a lot, or took out, on a day.
pub(super) struct Moved {
    pub record: String,
    pub date: String,
    pub why: Why,
    pub layer: Layer,
    /// Who has it, of what was issued, came back or became cheaper.
    pub holder: Option<String>,
}

pub(super) struct Lot {
    pub id: String,
    pub material: String,
    pub record: String,
    pub came_on: String,
    pub came: Layer,
    /// In the order they were recorded.
    pub moves: Vec<Moved>,
}

/// What stands on that day and is not taken by anything dated later.
fn free_from(start: Layer, changes: &[(&str, Layer)], date: &str) -> Layer {
    let mut by_day = changes.to_vec();
    by_day.sort_by_key(|(day, _)| *day);
    let until = by_day.partition_point(|(day, _)| *day <= date);
    let standing = by_day[..until].iter().fold(start, |sum, (_, change)| sum.plus(*change));
    let (mut free, mut balance) = (standing, standing);
    for (_, change) in &by_day[until..] {
        balance = balance.plus(*change);
        free.quantity = free.quantity.min(balance.quantity);
        free.cents = free.cents.min(balance.cents);
    }
    // Whoever took the last of it now would leave a cost of a later day with nothing to carry it.
    if free.quantity == balance.quantity && free.cents != balance.cents {
        free.quantity -= 1;
    }
    free
}

impl Lot {
    pub fn left(&self) -> Layer {
        self.moves.iter().fold(self.came, |sum, one| sum.plus(one.layer))
    }

    pub fn quantity_on(&self, date: &str) -> i128 {
        let by_then = self.moves.iter().filter(|one| one.date.as_str() <= date);
        by_then.fold(self.came, |sum, one| sum.plus(one.layer)).quantity
    }

    pub fn free_on(&self, date: &str) -> Layer {
        let changes: Vec<_> = self.moves.iter().map(|one| (one.date.as_str(), one.layer)).collect();
        free_from(self.came, &changes, date)
    }

    /// What of it is with an episode, a project, or nobody in particular.
    pub fn held_by(&self, holder: &str, date: &str) -> Layer {
        let of_it = self.moves.iter().filter(|one| one.holder.as_deref() == Some(holder));
        let changes: Vec<_> = of_it.map(|one| (one.date.as_str(), one.layer.negated())).collect();
        free_from(Layer::default(), &changes, date)
    }
}
