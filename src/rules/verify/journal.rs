//! The journal: numbers, chain, head, balance, reversals, closed periods.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Days, NaiveDate};

use super::super::chain::{SealedEntry, genesis, seal};
use super::super::journal::EntryKind;
use super::{BooksToVerify, Checked, Inquiry, StoredPeriodAct, Verdict, total};

pub(super) fn verify(facts: &BooksToVerify, verdict: &mut Verdict) {
    let mut entries: Vec<&SealedEntry> = facts.entries.iter().collect();
    entries.sort_by_key(|entry| entry.number);
    numbers(&entries, verdict);
    chain(facts, &entries, verdict);
    head(facts, &entries, verdict);
    balance(facts, &entries, verdict);
    reversals(facts, &entries, verdict);
    closed_periods(facts, &entries, verdict);
}

fn run_of(first: i64, last: i64) -> String {
    if first == last {
        format!("entry {first} is missing")
    } else {
        format!("entries {first} to {last} are missing")
    }
}

fn numbers(entries: &[&SealedEntry], verdict: &mut Verdict) {
    let mut inquiry = Inquiry::new(Checked::Numbers);
    let mut before = 0;
    for entry in entries {
        inquiry.looks();
        let number = entry.number;
        if number < 1 {
            inquiry.finds_in_entry(number, "numbers count from 1");
        } else if number == before {
            inquiry.finds_in_entry(number, "the number is given twice");
        } else if number > before + 1 {
            inquiry.finds_in_entry(before + 1, run_of(before + 1, number - 1));
        }
        before = number.max(before);
    }
    inquiry.tell(verdict, "entry is numbered without a gap", "entries are numbered without a gap");
}

/// Each entry against the hash that is stored before it, so that a change is named once, where it was made. What
/// follows a gap can not be recomputed; the gap itself is found by [`numbers`].
fn chain(facts: &BooksToVerify, entries: &[&SealedEntry], verdict: &mut Verdict) {
    let mut inquiry = Inquiry::new(Checked::Chain);
    let (mut number, mut before) = (0, genesis(facts.books));
    for entry in entries {
        if entry.number == number + 1 {
            inquiry.looks();
            if seal(&before, &entry.to_seal(facts.books)) != entry.hash {
                inquiry.finds_in_entry(
                    entry.number,
                    format!(
                        "its hash {} does not seal what is stored: the entry, a posting of it or the hash before \
                         it was changed",
                        entry.hash
                    ),
                );
            }
        }
        (number, before) = (entry.number, entry.hash);
    }
    inquiry.tell(verdict, "hash recomputed", "hashes recomputed");
}

fn head(facts: &BooksToVerify, entries: &[&SealedEntry], verdict: &mut Verdict) {
    let mut inquiry = Inquiry::new(Checked::Head);
    inquiry.looks();
    let head = facts.head;
    let (number, hash) = entries.last().map_or((0, genesis(facts.books)), |last| (last.number, last.hash));
    if head.number > number {
        let cut = run_of(number + 1, head.number);
        inquiry.finds_in_entry(number + 1, format!("{cut} at the end of the journal: its tail was cut"));
    } else if head.number < number {
        let behind = format!("the books' head stands at entry {}, before this one", head.number);
        inquiry.finds_in_entry(number, behind);
    } else if head.hash != hash {
        inquiry
            .finds_in_entry(number, format!("the books' head has the hash {}, not this entry's", head.hash));
    }
    inquiry.tell(verdict, "head of the books is the last entry", "heads of the books are the last entries");
}

fn balance(facts: &BooksToVerify, entries: &[&SealedEntry], verdict: &mut Verdict) {
    let mut balance = Inquiry::new(Checked::Balance);
    let mut currency = Inquiry::new(Checked::Currency);
    for entry in entries {
        balance.looks();
        let sum = total(entry.postings.iter().map(|posting| posting.amount.amount()));
        if entry.postings.is_empty() {
            balance.finds_in_entry(entry.number, "it has no postings");
        } else if !sum.is_zero() {
            balance.finds_in_entry(entry.number, format!("its postings are out of balance by {sum}"));
        }
        for (place, posting) in entry.postings.iter().enumerate() {
            currency.looks();
            let amount = posting.amount;
            if amount.currency() != facts.base || amount.amount().scale() != facts.base.minor_digits() {
                let line = place + 1;
                let says = format!("line {line} posts {amount:?}, but the books are kept in {}", facts.base);
                currency.finds_in_entry(entry.number, says);
            }
        }
    }
    balance.tell(verdict, "entry balances", "entries balance");
    currency.tell(
        verdict,
        "posting is in the books' currency, to its minor unit",
        "postings are in the books' currency, to its minor unit",
    );
}

fn reversals(facts: &BooksToVerify, entries: &[&SealedEntry], verdict: &mut Verdict) {
    let mut inquiry = Inquiry::new(Checked::Reversals);
    let by_number: BTreeMap<i64, &SealedEntry> = entries.iter().map(|entry| (entry.number, *entry)).collect();
    let links: BTreeSet<(i64, i64)> =
        facts.reversals.iter().map(|link| (link.entry, link.reversed_by)).collect();
    let mut taken_back: BTreeMap<i64, i64> = BTreeMap::new();
    for entry in entries {
        let Some(reverses) = entry.reverses else {
            if entry.kind == EntryKind::Reversal {
                inquiry.looks();
                inquiry.finds_in_entry(entry.number, "it is a reversal, but says of nothing");
            }
            continue;
        };
        inquiry.looks();
        if entry.kind != EntryKind::Reversal {
            let says = format!("it takes back entry {reverses}, but is of the kind {}", entry.kind);
            inquiry.finds_in_entry(entry.number, says);
        }
        if let Some(earlier) = taken_back.insert(reverses, entry.number) {
            let says = format!("it takes back entry {reverses}, as entry {earlier} did already");
            inquiry.finds_in_entry(entry.number, says);
        }
        if !links.contains(&(reverses, entry.number)) {
            let says = format!("it takes back entry {reverses}, which does not name it");
            inquiry.finds_in_entry(entry.number, says);
        }
        match by_number.get(&reverses) {
            Some(original) if original.number >= entry.number => {
                inquiry.finds_in_entry(entry.number, format!("it takes back entry {reverses}, a later one"));
            }
            Some(original) if !is_mirrored(original, entry) => {
                let says = format!("its postings are not those of entry {reverses} the other way round");
                inquiry.finds_in_entry(entry.number, says);
            }
            Some(_) => {}
            None => {
                inquiry.finds_in_entry(
                    entry.number,
                    format!("it takes back entry {reverses}, which is missing"),
                );
            }
        }
    }
    for (entry, by) in links {
        if by_number.get(&by).and_then(|reversal| reversal.reverses) != Some(entry) {
            let says = format!("it says that entry {by} takes it back, and entry {by} does not say so");
            inquiry.finds_in_entry(entry, says);
        }
    }
    inquiry.tell(verdict, "reversal is linked both ways", "reversals are linked both ways");
}

fn is_mirrored(original: &SealedEntry, reversal: &SealedEntry) -> bool {
    original.postings.len() == reversal.postings.len()
        && original.postings.iter().zip(&reversal.postings).all(|(one, other)| {
            one.amount == other.amount.negated()
                && (one.account, one.class, one.tax_year) == (other.account, other.class, other.tax_year)
        })
}

/// Entries recorded after an act must lie after the last day it closed. What was recorded before an act that
/// does not say where it stands can not be judged.
fn closed_periods(facts: &BooksToVerify, entries: &[&SealedEntry], verdict: &mut Verdict) {
    let mut inquiry = Inquiry::new(Checked::ClosedPeriods);
    let unplaced = facts.period_acts.iter().rposition(|act| act.after.is_none());
    let decisive = facts.period_acts.iter().skip(unplaced.map_or(0, |place| place + 1));
    let mut acts = decisive.filter_map(|act| act.after.map(|after| (after, act))).peekable();
    let mut in_force: Option<&StoredPeriodAct> = None;
    for entry in entries {
        while let Some((_, act)) = acts.next_if(|(after, _)| *after < entry.number) {
            in_force = Some(act);
        }
        if let Some(act) = in_force {
            inquiry.looks();
            if entry.date <= act.closed_through {
                let says = format!(
                    "it is dated {} and was recorded when {} and all before it was closed",
                    entry.date, act.closed_through
                );
                inquiry.finds_in_entry(entry.number, says);
            }
        }
    }
    let first_open = facts.first_open;
    match facts.period_acts.last() {
        Some(act) if act.closed_through.checked_add_days(Days::new(1)) != Some(first_open) => {
            let closed = act.closed_through;
            let says =
                format!("the books' first open day is {first_open}, but the last act left {closed} closed");
            inquiry.finds_in_row("books", says);
        }
        None if first_open != NaiveDate::MIN => {
            let says = format!("the books' first open day is {first_open}, but no closing is on record");
            inquiry.finds_in_row("books", says);
        }
        _ => {}
    }
    inquiry.tell(
        verdict,
        "entry made after a closing lies in an open period",
        "entries made after a closing lie in an open period",
    );
}
