//! The words of the trade by which the document groups its operations.

use utoipa::openapi::Tag;
use utoipa::openapi::tag::TagBuilder;

/// Each word, and what the owner would say it is.
const WORDS: [(&str, &str); 23] = [
    ("accounts", "Where money lies: cash, bank, card, platform purses, loans; and moves between them."),
    ("attributions", "Which episode or project bears a cost or has an income, and by how much."),
    ("audit", "Who changed what, when, and by which request."),
    ("books", "The books themselves: opening, closing a period, opening it again."),
    (
        "costing",
        "What an episode, a project or a year of work truly cost and earned; overhead; the price floor.",
    ),
    ("deals", "What was agreed with sponsors: instalments, promises and their days, invoices, clawbacks."),
    ("documents", "Pictures and papers that prove what was recorded."),
    ("entries", "The journal: records, their entries and postings, reversals, and the proof of one entry."),
    ("episodes", "What is filmed and published."),
    (
        "furniture",
        "Pieces from the day they came to the day they went: bought, made, refinished, sold, given away.",
    ),
    ("gifts", "What was given for coverage, and what became of it."),
    ("labour", "Helpers who are paid, and the owner's own hours, which are not a cost to the tax office."),
    ("ledger", "Trial balance, income statement, balance sheet, the ledger of one account."),
    ("materials", "Stock: lots, what is issued from them, what comes back, waste and counts."),
    ("openings", "What was there before the books began."),
    ("parties", "Vendors, buyers, sponsors, platforms and helpers."),
    ("payouts", "What platforms paid, with their fees."),
    ("projects", "Rooms and pieces of work that several episodes show."),
    (
        "purchases",
        "Receipts, with lines that say what for and what to the tax office; payments, returns, rebates.",
    ),
    ("tax_years", "The year as a preparer needs it: summary, schedules, elections, filing and amending."),
    ("tokens", "Who may call, and how far the call reaches."),
    ("tools", "Saws, nailers, cameras: their hours, repairs, business share and end."),
    ("trips", "Drives for the trade."),
];

/// The words as the document lists them.
pub fn all() -> Vec<Tag> {
    WORDS.map(|(name, says)| TagBuilder::new().name(name).description(Some(says)).build()).to_vec()
}
