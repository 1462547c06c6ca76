//! What a buyer puts down on a piece: owed until the sale, kept, or paid back.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{MoneyAccountId, PartyId};
use super::super::journal::{Account, Stream};
use super::super::money::{Amount, Currency, Exchange, Money, Rate};
use super::super::named::named;
use super::super::recording::{Label, MoneyAccount, Pen, Recording, Side, Source, SourceKind, Word};
use super::super::refusal::{At, Explain, Findings, Refusal, Said};
use super::super::rows::{DepositAct, PieceDeposit, PiecePurpose, Row};
use super::PieceFacts;

/// A buyer's deposit on a piece.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewDeposit {
    pub date: NaiveDate,
    /// Above zero.
    pub amount: Amount,
    pub paid_into: MoneyAccountId,
    /// The buyer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of `currency`, where that is foreign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

named! {
    /// What becomes of a deposit without a sale.
    pub enum DepositEnd {
        /// The buyer did not come.
        Kept => "kept",
        PaidBack => "paid_back",
    }
}

/// A deposit is kept or paid back; the sale itself takes in what is still held.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewDepositEnd {
    pub date: NaiveDate,
    pub how: DepositEnd,
    /// In the books' currency; all that is held where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amount: Option<Amount>,
    /// The account that paid it back; needed with `paid_back`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid_from: Option<MoneyAccountId>,
    /// The buyer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// What can be wrong with the end of a deposit.
#[derive(Clone, Debug, PartialEq)]
pub enum DepositFinding {
    NoneHeld { name: String },
    MoreThanHeld { amount: Money, held: Money },
    PaidFromMissing,
    PaidFromOfKept,
}

impl Explain for DepositFinding {
    fn say(&self) -> Said {
        match self {
            Self::NoneHeld { name } => Said::conflict(
                format!("no deposit on {name} is held"),
                "name the piece it was put down on; a sale takes its deposit in by itself",
            ),
            Self::MoreThanHeld { amount, held } => Said::invalid(
                format!("{amount} are more than the {held} that are held"),
                "correct the amount, or leave it out for all of it",
            ),
            Self::PaidFromMissing => Said::invalid(
                "a deposit is paid back, and the account that paid is missing",
                "give paid_from; the owner's own pocket is an account too",
            ),
            Self::PaidFromOfKept => Said::invalid(
                "an account is said to have paid, but the deposit is kept",
                "leave paid_from out",
            ),
        }
    }
}

/// Takes a deposit in: it is owed to the buyer, and no income before the piece is sold.
/// # Errors
/// [`GoingFinding`](super::GoingFinding) where the piece is gone, the amount's own, a closed day, all at once.
/// # Source
/// The table of what is posted when is common practice: no source. Under the cash method an advance payment can be
/// income when it comes; a deposit that goes back unless the sale is made is none (from memory).
pub fn take_deposit(
    pen: &mut Pen<'_>,
    facts: &PieceFacts,
    paid_into: MoneyAccount,
    new: &NewDeposit,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    facts.may_go(new.date, &mut findings);
    let exchange = findings.keep(Exchange::on(new.date, new.currency, new.rate, pen.base()));
    let amount = exchange.and_then(|exchange| {
        let amount = new.amount.positive(exchange.currency).and_then(|own| exchange.in_base(own));
        findings.keep(amount.at("/amount"))
    });
    findings.or_refuse()?;
    let amount = amount.unwrap_or(Money::zero(pen.base()));
    let mut rec = of_deposit(facts, new.date, "deposit", format!("deposit on {}", facts.piece.name));
    rec.party = new.party;
    let mut entry = pen.entry(new.date, rec.text.clone());
    entry.debit(paid_into.receiving(), amount, None);
    entry.credit(Account::DepositsReceived, amount, None);
    rec.post(entry)?;
    rec.notes.push("It is owed to the buyer until the piece is sold: no income yet.".to_owned());
    let (piece, date, act) = (facts.piece.id, new.date, DepositAct::Taken);
    rec.rows.push(Row::PieceDeposit(PieceDeposit { piece, date, act, amount }));
    Ok(rec)
}

/// Keeps a deposit or pays it back. Kept on stock or a set piece it is other income of that day; kept on the owner's own
/// it is no business income, and a question.
/// # Errors
/// [`DepositFinding`], a closed day, all at once.
/// # Source
/// Schedule C instructions, line 6: what a buyer forfeits is income (from memory).
pub fn settle_deposit(
    pen: &mut Pen<'_>,
    facts: &PieceFacts,
    paid_from: Option<MoneyAccount>,
    new: &NewDepositEnd,
) -> Result<Recording, Refusal> {
    let (piece, held) = (&facts.piece, facts.deposits.held);
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    findings.keep(facts.after_its_deposits(new.date));
    let amount = new.amount.map_or(Ok(held), |amount| amount.positive(pen.base()));
    let amount = findings.keep(amount.at("/amount")).unwrap_or(held);
    if held.is_zero() {
        findings.add(DepositFinding::NoneHeld { name: piece.name.clone() });
    } else if amount.amount() > held.amount() {
        findings.add(Refusal::new("/amount", DepositFinding::MoreThanHeld { amount, held }));
    }
    match (new.how, paid_from) {
        (DepositEnd::PaidBack, None) => {
            findings.add(Refusal::new("/paid_from", DepositFinding::PaidFromMissing));
        }
        (DepositEnd::Kept, Some(_)) => {
            findings.add(Refusal::new("/paid_from", DepositFinding::PaidFromOfKept));
        }
        (DepositEnd::PaidBack, Some(_)) | (DepositEnd::Kept, None) => {}
    }
    findings.or_refuse()?;
    let (kind, text) = match new.how {
        DepositEnd::Kept => ("deposit_kept", format!("deposit on {} kept", piece.name)),
        DepositEnd::PaidBack => ("deposit_paid_back", format!("deposit on {} paid back", piece.name)),
    };
    let mut rec = of_deposit(facts, new.date, kind, text);
    rec.party = new.party;
    rec.depends_on.extend(&facts.deposits.records);
    let mut entry = pen.entry(new.date, rec.text.clone());
    entry.debit(Account::DepositsReceived, amount, None);
    let act = match paid_from {
        Some(from) => {
            entry.credit(from.paying(), amount, None);
            rec.post(entry)?;
            DepositAct::PaidBack
        }
        None if piece.purpose == PiecePurpose::Personal => {
            entry.credit(Account::OwnerContribution, amount, None);
            rec.post(entry)?;
            rec.notes.push(
                "The owner's own: no business income. Question to the preparer: is what the buyer forfeited income \
                 of the owner's?"
                    .to_owned(),
            );
            DepositAct::Kept
        }
        None => {
            entry.credit(Account::Income(Stream::Other), amount, Stream::Other.tax_class());
            let entry = rec.post(entry)?;
            let id = pen.new_source();
            let (side, kind, text) = (Side::Income, SourceKind::PieceSold, rec.text.clone());
            rec.open_source(Source { id, side, kind, text }, new.date, amount, entry);
            if let Some(object) = piece.object {
                rec.attribute(id, new.date, object, Label::Stream(Stream::Other), amount);
            }
            rec.streams.push(Stream::Other);
            rec.notes.push(format!("The buyer did not come: {amount} are other income of that day."));
            DepositAct::Kept
        }
    };
    rec.rows.push(Row::PieceDeposit(PieceDeposit { piece: piece.id, date: new.date, act, amount }));
    Ok(rec)
}

fn of_deposit(facts: &PieceFacts, date: NaiveDate, kind: &'static str, text: String) -> Recording {
    let mut rec = Recording::new(Word::Furniture, kind, date, text);
    rec.depends_on.push(facts.record);
    rec.depends_on.extend(facts.came_back);
    rec.about.extend(facts.piece.object);
    rec
}
