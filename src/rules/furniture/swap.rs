//! A piece is given for another one, with or without money beside it.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, MoneyAccountId, PartyId, PieceId, ProjectId};
use super::super::journal::{ExpenseClass, TaxClass};
use super::super::money::{Amount, Money};
use super::super::objects::ObjectAsked;
use super::super::recording::{MoneyAccount, Pen, Recording, Word, words_of};
use super::super::refusal::{At, Explain, Findings, Refusal, Said};
use super::super::rows::{Basis, Piece, PieceOrigin, PiecePurpose};
use super::super::treatment::Treatment;
use super::PieceFacts;
use super::acquire::{take_in, treatment_of};
use super::character::OnSale;
use super::sell::{Terms, hand_over};

/// A piece given for another one: a swap, or a trade-in against a dearer one. Amounts in the books' currency.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewSwap {
    pub date: NaiveDate,
    /// The piece that came for it.
    pub received: TakenForIt,
    /// What the value rests on: an advertisement, an appraisal, the dealer's price.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<String>,
    /// Money that came beside the piece.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub money_received: Option<Amount>,
    /// Money that was paid beside the piece given: a trade-in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub money_paid: Option<Amount>,
    /// The account that took or gave the money; needed with either.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub money_account: Option<MoneyAccountId>,
    /// With whom it was swapped.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    /// The episode the piece given counts for; its own where neither episode nor project is named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// The piece that came for the one given.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TakenForIt {
    /// What it is called, such as "walnut desk".
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    /// What it is for; it decides what a sale will be to the tax office.
    pub purpose: PiecePurpose,
    /// What it would fetch that day; above zero.
    pub value: Amount,
    /// The episode it was got for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// Of a set piece: which expense it is; supplies where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expense_class: Option<ExpenseClass>,
}

/// What can be wrong with a swap.
#[derive(Clone, Debug, PartialEq)]
pub enum SwapFinding {
    MoneyBothWays { received: Money, paid: Money },
    MoneyWithoutAccount,
    NothingForIt { value: Money, paid: Money },
}

impl Explain for SwapFinding {
    fn say(&self) -> Said {
        match self {
            Self::MoneyBothWays { received, paid } => Said::invalid(
                format!("{received} are said to have come and {paid} to have been paid"),
                "give only what is left of the two",
            ),
            Self::MoneyWithoutAccount => Said::invalid(
                "money was moved, and the account is missing",
                "give money_account; the owner's own pocket is an account too",
            ),
            Self::NothingForIt { value, paid } => Said::invalid(
                format!(
                    "{paid} were paid beside the piece for something worth {value}: the piece brought nothing"
                ),
                "correct one of the two; what was paid too much for is a purchase, and the piece was given away",
            ),
        }
    }
}

/// Swaps a piece: a sale at the fair value of what came for it, with the money beside it, and a purchase at that same
/// value. Both stand in one entry, and the character of the sale is that of any other.
/// # Errors
/// [`SwapFinding`], [`GoingFinding`](super::GoingFinding) and the ground's findings, all at once; a closed day.
/// # Source
/// IRS Publication 525, bartering: the fair value of what is received is income (seen in Publication 17); Publication
/// 551, what was received for it has that value as its basis (from memory). Since 2018 movable things are not exchanged
/// without gain (section 1031, from memory).
pub fn swap(
    pen: &mut Pen<'_>,
    facts: &PieceFacts,
    account: Option<MoneyAccount>,
    new: &NewSwap,
) -> Result<Recording, Refusal> {
    let (given, base, came) = (&facts.piece, pen.base(), &new.received);
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    facts.may_go_unsold(new.date, &mut findings);
    let named = ObjectAsked { episode: new.episode, project: new.project }.optional();
    let named = findings.keep(named).flatten();
    let object = ObjectAsked { episode: came.episode, project: came.project }.optional();
    let object = findings.keep(object.at("/received")).flatten();
    let name = findings.keep(words_of("name", &came.name).at("/received/name")).unwrap_or_default();
    let treatment = treatment_of(came.purpose, came.expense_class).map_err(|why| why.under("/received"));
    let treatment = findings.keep(treatment).unwrap_or(Treatment::Resale);
    let price = price(new, account, pen, &mut findings);
    findings.or_refuse()?;
    let Price { value, money, gross } = price.unwrap_or(Price::nothing(base));
    let text = format!("{} given for {name}", given.name);
    let mut rec = Recording::new(Word::Furniture, "swap", new.date, text);
    rec.party = new.party;
    rec.depends_on = facts.records();
    let (into, class) = treatment.books_to(TaxClass::ResalePurchases);
    let mut paid = vec![(into, value, class)];
    if let Some(account) = account {
        let account = if money.is_negative() { account.paying() } else { account.receiving() };
        paid.push((account, money, None));
    }
    let (incurred, added) = (facts.incurred(base)?, facts.added(base)?);
    let on_sale = OnSale { piece: given, incurred, added, attributed: facts.attributed };
    hand_over(pen, &mut rec, &on_sale, &Terms::of_price(gross), &paid, named.or(given.object))?;
    let received = Piece {
        id: PieceId(pen.ids.next()),
        source: pen.new_source(),
        name,
        origin: PieceOrigin::Swapped,
        purpose: came.purpose,
        acquired_on: new.date,
        basis: Basis::Known(value),
        value: Some(value),
        treatment,
        object,
    };
    let entry = rec.entries.len().checked_sub(1);
    take_in(&mut rec, new.date, &received, value, entry);
    rec.notes.push(format!(
        "{} counts as sold for {gross}, and {} as bought for {value}, its fair value.",
        given.name, received.name
    ));
    if new.evidence.as_deref().is_none_or(|text| text.trim().is_empty()) {
        rec.notes
            .push("Question: what does the value rest on? Keep an advertisement or an appraisal.".to_owned());
    }
    Ok(rec)
}

/// What the piece given brought.
struct Price {
    value: Money,
    /// Above zero what came, below zero what was paid.
    money: Money,
    gross: Money,
}

impl Price {
    fn nothing(base: super::super::money::Currency) -> Self {
        let zero = Money::zero(base);
        Self { value: zero, money: zero, gross: zero }
    }
}

fn price(
    new: &NewSwap,
    account: Option<MoneyAccount>,
    pen: &Pen<'_>,
    findings: &mut Findings,
) -> Option<Price> {
    let base = pen.base();
    let value = findings.keep(new.received.value.positive(base).at("/received/value"));
    let mut part = |amount: Option<Amount>, pointer: &str| {
        let amount = amount.map_or(Ok(Money::zero(base)), |amount| amount.not_negative(base));
        findings.keep(amount.at(pointer))
    };
    let (came, went) = (part(new.money_received, "/money_received"), part(new.money_paid, "/money_paid"));
    let (value, received, paid) = (value?, came?, went?);
    if received.is_positive() && paid.is_positive() {
        findings.add(SwapFinding::MoneyBothWays { received, paid });
    }
    let money = findings.keep(received.minus(paid))?;
    if !money.is_zero() && account.is_none() {
        findings.add(Refusal::new("/money_account", SwapFinding::MoneyWithoutAccount));
    }
    let gross = findings.keep(value.plus(money))?;
    if !gross.is_positive() {
        findings.add(Refusal::new("/money_paid", SwapFinding::NothingForIt { value, paid }));
    }
    Some(Price { value, money, gross })
}
