//! What a sale of furniture is to the tax office, decided from stated facts, and why, in words.

use super::super::money::{Currency, Money, MoneyFinding};
use super::super::rows::{Basis, Piece, PieceOrigin, PiecePurpose, PieceSale, SaleCharacter};
use super::super::treatment::Treatment;

/// A piece at the moment of its sale.
pub(super) struct OnSale<'a> {
    pub piece: &'a Piece,
    /// All that the books have on it, and of that what came after the record that brought it in.
    pub incurred: Money,
    pub added: Money,
    pub attributed: Money,
}

/// What a sale leaves over its basis.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    Gain(Money),
    /// Given as a positive amount.
    Loss(Money),
    Even,
    /// Nobody knows what the piece cost: never taken as zero.
    Unknown,
}

/// Gross less fees less basis. A gain on the owner's own things is taxed and a loss on them is not deducted,
/// nor set against a gain on another: each sale stands alone. Where there are two bases, what lies between them is
/// neither a gain nor a loss.
/// # Errors
/// As [`Money::plus`].
/// # Source
/// IRS FS-2023-06, questions and answers on information returns of payments (seen in a page copying it). Publication 551,
/// property received as a gift and property changed to business use: two bases (seen).
pub fn outcome(sale: &PieceSale) -> Result<Outcome, MoneyFinding> {
    let Basis::Known(basis) = sale.basis else { return Ok(Outcome::Unknown) };
    let net = sale.gross.minus(sale.fees)?;
    let over = net.minus(basis)?;
    let under = net.minus(sale.basis_for_loss.unwrap_or(basis))?;
    Ok(if over.is_positive() {
        Outcome::Gain(over)
    } else if under.is_negative() {
        Outcome::Loss(under.absolute())
    } else {
        Outcome::Even
    })
}

pub(super) const fn character_of(purpose: PiecePurpose) -> SaleCharacter {
    match purpose {
        PiecePurpose::Resale => SaleCharacter::StockInTrade,
        PiecePurpose::Personal => SaleCharacter::PersonalProperty,
        PiecePurpose::Set => SaleCharacter::BusinessProperty,
    }
}

impl OnSale<'_> {
    pub fn character(&self) -> SaleCharacter {
        character_of(self.piece.purpose)
    }

    /// What the sale may set against its proceeds. Of stock: what was put into it. Of the owner's own: what
    /// it cost and what refinishing added. Of a set piece: the same less what was already deducted.
    pub fn basis(&self, base: Currency) -> Result<Basis, MoneyFinding> {
        let Basis::Known(came_at) = self.piece.basis else { return Ok(Basis::Unknown) };
        let basis = match (self.character(), self.piece.treatment) {
            (SaleCharacter::StockInTrade, _) => self.incurred,
            (SaleCharacter::BusinessProperty, Treatment::Expense(_)) => {
                let left = came_at.plus(self.added)?.minus(self.incurred)?;
                if left.is_negative() { Money::zero(base) } else { left }
            }
            (SaleCharacter::PersonalProperty | SaleCharacter::BusinessProperty, _) => {
                came_at.plus(self.added)?
            }
        };
        Ok(Basis::Known(basis))
    }

    /// The basis for a loss, where it is lower: a gift counts at its value on the day it was given, and what the owner
    /// had before counts at its value on the day it came into the business. Stock stands at the lower one already.
    pub fn basis_for_loss(&self, base: Currency) -> Result<Option<Money>, MoneyFinding> {
        let two = matches!(
            (self.character(), self.piece.origin),
            (SaleCharacter::PersonalProperty | SaleCharacter::BusinessProperty, PieceOrigin::Gifted)
                | (SaleCharacter::BusinessProperty, PieceOrigin::AlreadyOwned)
        );
        let (Basis::Known(basis), Basis::Known(came_at), Some(value)) =
            (self.basis(base)?, self.piece.basis, self.piece.value.filter(|_| two))
        else {
            return Ok(None);
        };
        let less = came_at.minus(came_at.at_most(value))?;
        let lower = basis.minus(less.at_most(basis))?;
        Ok(less.is_positive().then_some(lower).filter(|lower| *lower != basis))
    }

    /// What of its cost was deducted as an expense; none where nothing was.
    pub fn deducted(&self) -> Option<Money> {
        let expensed = matches!(self.piece.treatment, Treatment::Expense(_));
        Some(self.incurred).filter(|cost| expensed && cost.is_positive())
    }

    /// The character of the sale, its reason and its figures, then what the preparer would ask.
    pub fn in_words(&self, sale: &PieceSale) -> Result<Vec<String>, MoneyFinding> {
        let net = sale.gross.minus(sale.fees)?;
        let name = &self.piece.name;
        let mut said = vec![match sale.character {
            SaleCharacter::StockInTrade => format!(
                "Stock in trade, because {name} was there to be sold: {} are gross receipts, {} of fees are an \
                 expense, and what it cost is deducted now.",
                sale.gross, sale.fees
            ),
            SaleCharacter::PersonalProperty => format!(
                "The owner's own property, because {name} was personal and never the business's: no business \
                 income. Proceeds after fees are {net}."
            ),
            SaleCharacter::BusinessProperty => format!(
                "Business property, because {name} stood on the set: no sale of goods. Proceeds after fees \
                 are {net}."
            ),
        }];
        said.push(match (sale.character, outcome(sale)?) {
            (SaleCharacter::StockInTrade, Outcome::Unknown) => format!(
                "Question: what did {name} cost? Only {} put into it since are set against the sale.",
                self.incurred
            ),
            (SaleCharacter::StockInTrade, outcome) => format!(
                "Cost of the piece sold {}; {} before the owner's own hours.",
                self.incurred,
                profit_in_words(outcome)
            ),
            (_, Outcome::Unknown) => format!(
                "Question: what did {name} cost? The basis is unknown, so a gain can not be worked out; it is \
                 not taken as zero."
            ),
            (SaleCharacter::PersonalProperty, Outcome::Gain(gain)) => {
                format!("A gain of {gain} over its basis: taxed, apart from the business.")
            }
            (SaleCharacter::PersonalProperty, Outcome::Loss(loss)) => {
                format!("A loss of {loss} under its basis: not deducted, nor set against other gains.")
            }
            (SaleCharacter::BusinessProperty, Outcome::Gain(gain)) => match self.deducted() {
                Some(cost) => format!(
                    "A gain of {gain}: its cost of {cost} was already deducted as an expense and is not \
                     set against the proceeds again."
                ),
                None => format!("A gain of {gain} over its basis, on business property."),
            },
            (SaleCharacter::BusinessProperty, Outcome::Loss(loss)) => {
                format!("A loss of {loss} on business property; ask the preparer where it goes.")
            }
            (_, Outcome::Even) => "Neither a gain nor a loss.".to_owned(),
        });
        said.extend(self.two_bases_in_words(sale)?);
        Ok(said)
    }
}

impl OnSale<'_> {
    fn two_bases_in_words(&self, sale: &PieceSale) -> Result<Option<String>, MoneyFinding> {
        if let (Basis::Known(gain), Some(loss)) = (sale.basis, sale.basis_for_loss) {
            return Ok(Some(format!(
                "It has two bases: {gain} counts for a gain, {loss} for a loss, and what lies between is neither."
            )));
        }
        let piece = self.piece;
        let (SaleCharacter::StockInTrade, Basis::Known(came_at), Some(value)) =
            (sale.character, piece.basis, piece.value)
        else {
            return Ok(None);
        };
        let more = came_at.minus(came_at.at_most(value))?;
        Ok(more.is_positive().then(|| {
            format!(
                "Question: it came into stock at its value, {more} under what it had cost before. May the higher \
                 basis be set against a gain?"
            )
        }))
    }
}

fn profit_in_words(outcome: Outcome) -> String {
    match outcome {
        Outcome::Gain(profit) => format!("profit {profit}"),
        Outcome::Loss(loss) => format!("loss {loss}"),
        Outcome::Even | Outcome::Unknown => "neither profit nor loss".to_owned(),
    }
}
