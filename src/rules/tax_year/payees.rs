//! Who was paid so much for services or rent that an information return is due for it.

use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;

use super::super::ids::PartyId;
use super::super::money::{Money, MoneyFinding};
use super::super::named::named;
use super::facts::YearFacts;
use super::questions::{Questions, Topic};

named! {
    /// The two kinds of payment that are reported apart.
    pub enum PaidFor { Services => "services", Rent => "rent" }
}

/// What one entry paid somebody.
#[derive(Clone, Debug)]
pub struct PaidToParty {
    pub party: PartyId,
    pub name: String,
    pub paid_for: PaidFor,
    pub amount: Money,
    /// What the entry paid in all, and what of it went by card.
    pub paid: Money,
    pub by_card: Money,
}

/// Somebody with what the year paid them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Payee {
    pub party: PartyId,
    pub name: String,
    pub paid_for: PaidFor,
    /// Not by card.
    pub amount: Money,
    /// Reported by the card's own settlement, so it does not count.
    pub by_card: Money,
    pub standing: PayeeStanding,
}

named! {
    /// Whether a return is due.
    pub enum PayeeStanding { Due => "due", BelowThreshold => "below_threshold" }
}

/// Everybody who was paid for services or rent, by name.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct InformationReturns {
    pub threshold: Money,
    /// Everybody who was paid for services or rent, by name.
    pub payees: Vec<Payee>,
    pub says: String,
}

/// Adds up what each was paid in the year, leaving out the part that went by card, and asks about those who reach the
/// year's threshold. Services and rent are each held against it by themselves.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
/// # Source
/// IRC 6041, 6041A and 6050W(c); the amounts by year are the profile's. That card payments are reported by whoever settles
/// them: instructions for Forms 1099-MISC and 1099-NEC, from memory.
pub(super) fn information_returns(
    facts: &YearFacts,
    questions: &mut Questions,
) -> Result<InformationReturns, MoneyFinding> {
    let base = facts.books.base;
    let threshold = Money::exact(facts.profile.information_return.value, base)?;
    let mut sums: BTreeMap<(&str, PartyId, PaidFor), (Money, Money)> = BTreeMap::new();
    for one in &facts.paid_to {
        let by_card = match one.paid.is_zero() {
            true => Money::zero(base),
            false => one.amount.portion(one.by_card.amount(), one.paid.amount())?,
        };
        let nothing = (Money::zero(base), Money::zero(base));
        let (counts, carded) = sums.entry((&one.name, one.party, one.paid_for)).or_insert(nothing);
        *counts = counts.plus(one.amount.minus(by_card)?)?;
        *carded = carded.plus(by_card)?;
    }
    let payees: Vec<Payee> = sums
        .into_iter()
        .map(|((name, party, paid_for), (amount, by_card))| {
            let reaches = amount.amount() >= threshold.amount();
            let standing = if reaches { PayeeStanding::Due } else { PayeeStanding::BelowThreshold };
            Payee { party, name: name.to_owned(), paid_for, amount, by_card, standing }
        })
        .collect();
    questions.ask_about(
        Topic::InformationReturns,
        format!(
            "These were paid {threshold} or more for services or rent in {}, not by card (lines I and J of the form). Is \
             each a person or a partnership (most corporations are exempt), is there a taxpayer number, and was the \
             return (1099-NEC for services, 1099-MISC for rent) sent by 31 January? A state may ask for less.",
            facts.year()
        ),
        payees
            .iter()
            .filter(|payee| payee.standing == PayeeStanding::Due)
            .map(|payee| format!("{}: {} for {}", payee.name, payee.amount, payee.paid_for))
            .collect(),
    );
    Ok(InformationReturns {
        threshold,
        payees,
        says: format!(
            "A return is due from {threshold} on ({}). Work on the owner's home is no business of the year and is left \
             out.",
            facts.profile.information_return.source.publication
        ),
    })
}
