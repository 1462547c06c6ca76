//! What a preparer would ask: everything the facts do not decide is a question here, never a guess.

use serde::Serialize;
use utoipa::ToSchema;

use super::super::named::named;

named! {
    /// What a question is about.
    pub enum Topic {
        UnvaluedGifts => "unvalued_gifts",
        UnsolicitedGoods => "unsolicited_goods",
        PersonalGoods => "personal_goods",
        UndecidedGoods => "undecided_goods",
        GoodsNobodyPaidFor => "goods_nobody_paid_for",
        OpeningPosition => "opening_position",
        PriorDepreciation => "prior_depreciation",
        UnknownBasis => "unknown_basis",
        TwoBases => "two_bases",
        ReceiptsMissing => "receipts_missing",
        YearEndCount => "year_end_count",
        Inventory => "inventory",
        Refunds => "refunds",
        Donations => "donations",
        PiecesLost => "pieces_lost",
        PiecesTakenHome => "pieces_taken_home",
        PiecesGivenAway => "pieces_given_away",
        PaymentsToFamily => "payments_to_family",
        InformationReturns => "information_returns",
        MidQuarter => "mid_quarter",
        DeMinimis => "de_minimis",
        Section179 => "section_179",
        StraightLine => "straight_line",
        SpecialAllowance => "special_allowance",
        ListedProperty => "listed_property",
        BusinessShare => "business_share",
        Recapture => "recapture",
        Repairs => "repairs",
        BusinessSales => "business_sales",
        PostedDepreciation => "posted_depreciation",
        Vehicle => "vehicle",
        HomeOffice => "home_office",
        HomeImprovements => "home_improvements",
        Interest => "interest",
        Tips => "tips",
        Loss => "loss",
        Statements => "statements",
        Receivables => "receivables",
        ForeignMoney => "foreign_money",
        WithoutClass => "without_class",
        FormNotSeen => "form_not_seen",
        AmendedReturn => "amended_return",
    }
}

/// A question to the preparer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct TaxQuestion {
    pub topic: Topic,
    /// What only a person can answer.
    pub question: String,
    /// What it is about: addresses of this service where there are any, else names.
    pub about: Vec<String>,
}

/// Gathers questions while the summary is worked out.
#[derive(Debug, Default)]
pub(super) struct Questions(Vec<TaxQuestion>);

impl Questions {
    pub fn ask(
        &mut self,
        topic: Topic,
        question: impl Into<String>,
        about: impl IntoIterator<Item = String>,
    ) {
        let (question, about) = (question.into(), about.into_iter().collect());
        self.0.push(TaxQuestion { topic, question, about });
    }

    /// Asks only where there is something to ask about.
    pub fn ask_about(&mut self, topic: Topic, question: impl Into<String>, about: Vec<String>) {
        if !about.is_empty() {
            self.ask(topic, question, about);
        }
    }

    /// In the order of the topics, and as asked within one.
    pub fn in_order(mut self) -> Vec<TaxQuestion> {
        self.0.sort_by_key(|question| question.topic);
        self.0
    }
}
