//! Sources: orphans, the tie to the journal, the roll-forward; lots and tools.

use std::collections::{BTreeMap, HashMap};

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::super::chain::SealedEntry;
use super::super::ids::SourceId;
use super::super::journal::EntryKind;
use super::super::recording::Source;
use super::super::tie::{TieOf, first_day_out};
use super::{BooksToVerify, Checked, Inquiry, StoredLot, Verdict, total};

pub(super) fn verify(facts: &BooksToVerify, verdict: &mut Verdict) {
    let sources: HashMap<SourceId, &Source> =
        facts.sources.iter().map(|source| (source.id, source)).collect();
    let entries: HashMap<i64, &SealedEntry> =
        facts.entries.iter().map(|entry| (entry.number, entry)).collect();
    orphans(facts, &sources, &entries, verdict);
    dates(facts, &entries, verdict);
    tie(facts, &sources, verdict);
    roll_forward(facts, verdict);
    lots(facts, verdict);
    tools(facts, verdict);
}

fn orphans(
    facts: &BooksToVerify,
    sources: &HashMap<SourceId, &Source>,
    entries: &HashMap<i64, &SealedEntry>,
    verdict: &mut Verdict,
) {
    let mut inquiry = Inquiry::new(Checked::Orphans);
    for movement in &facts.movements {
        inquiry.looks();
        if !sources.contains_key(&movement.source) {
            let says = format!("a movement of source {}, which is missing", movement.source);
            inquiry.finds_in_row(&movement.row, says);
        }
        if let Some(number) = movement.entry
            && !entries.contains_key(&number)
        {
            let says = "a movement that names this entry, which is missing";
            inquiry.finds(Some(number), Some(movement.row.clone()), says);
        }
    }
    for attribution in &facts.attributions {
        inquiry.looks();
        if !sources.contains_key(&attribution.source) {
            let says = format!("an attribution of source {}, which is missing", attribution.source);
            inquiry.finds_in_row(&attribution.row, says);
        }
        if let Some(missing) = attribution.missing {
            inquiry.finds_in_row(&attribution.row, format!("an attribution whose {missing} is missing"));
        }
    }
    inquiry.tell(
        verdict,
        "movement or attribution has its source and entry",
        "movements and attributions have their source and entry",
    );
}

/// A source ties to the journal on any day only if both move on the same one.
fn dates(facts: &BooksToVerify, entries: &HashMap<i64, &SealedEntry>, verdict: &mut Verdict) {
    let mut inquiry = Inquiry::new(Checked::Dates);
    for movement in &facts.movements {
        let Some(entry) = movement.entry.and_then(|number| entries.get(&number)) else { continue };
        inquiry.looks();
        if movement.date != entry.date {
            let says = format!("a movement on {}, but its entry is dated {}", movement.date, entry.date);
            inquiry.finds(Some(entry.number), Some(movement.row.clone()), says);
        }
    }
    inquiry.tell(verdict, "movement is dated as its entry", "movements are dated as their entries");
}

/// Entries that tie: not those that are bridged, nor the reversals of such.
fn tying_entries(facts: &BooksToVerify) -> Vec<&SealedEntry> {
    let mut entries: Vec<&SealedEntry> = facts.entries.iter().collect();
    entries.sort_by_key(|entry| entry.number);
    let mut kinds: HashMap<i64, EntryKind> = HashMap::new();
    for entry in &entries {
        let taken_back = entry.reverses.and_then(|number| kinds.get(&number)).copied();
        let kind = taken_back.filter(|_| entry.kind == EntryKind::Reversal).unwrap_or(entry.kind);
        kinds.insert(entry.number, kind);
    }
    entries.retain(|entry| kinds.get(&entry.number).is_some_and(|kind| kind.ties_to_sources()));
    entries
}

fn tie(facts: &BooksToVerify, sources: &HashMap<SourceId, &Source>, verdict: &mut Verdict) {
    let mut inquiry = Inquiry::new(Checked::Tie);
    let mut moved: HashMap<(i64, TieOf), Decimal> = HashMap::new();
    for movement in &facts.movements {
        if let (Some(number), Some(source)) = (movement.entry, sources.get(&movement.source)) {
            let sum = moved.entry((number, TieOf::of_side(source.side))).or_default();
            *sum = sum.saturating_add(movement.amount.amount());
        }
    }
    for entry in tying_entries(facts) {
        inquiry.looks();
        let mut posted: BTreeMap<TieOf, Decimal> = BTreeMap::new();
        for posting in &entry.postings {
            if let Some((of, amount)) = TieOf::of_posting(posting.account, posting.class, posting.amount) {
                let sum = posted.entry(of).or_default();
                *sum = sum.saturating_add(amount.amount());
            }
        }
        for of in TieOf::ALL {
            let ledger = posted.get(of).copied().unwrap_or_default();
            let behind = moved.get(&(entry.number, *of)).copied().unwrap_or_default();
            if ledger != behind {
                let accounts = accounts_of(*of);
                let says = format!("its {accounts} move by {ledger}, the sources that name it by {behind}");
                inquiry.finds_in_entry(entry.number, says);
            }
        }
    }
    inquiry.tell(verdict, "entry ties to its sources", "entries tie to their sources");
}

const fn accounts_of(of: TieOf) -> &'static str {
    match of {
        TieOf::Costs => "cost accounts",
        TieOf::Income => "income accounts",
        TieOf::Recoveries => "proceeds of property sold",
    }
}

fn roll_forward(facts: &BooksToVerify, verdict: &mut Verdict) {
    let mut inquiry = Inquiry::new(Checked::RollForward);
    let mut changes: HashMap<SourceId, Vec<(NaiveDate, Decimal, Decimal)>> = HashMap::new();
    for one in &facts.movements {
        changes.entry(one.source).or_default().push((one.date, one.amount.amount(), Decimal::ZERO));
    }
    for one in &facts.attributions {
        changes.entry(one.source).or_default().push((one.date, Decimal::ZERO, one.amount.amount()));
    }
    for source in &facts.sources {
        inquiry.looks();
        let of_source = changes.remove(&source.id).unwrap_or_default();
        if let Some(out) = first_day_out(of_source, None) {
            let says = format!(
                "'{}' does not roll forward: by {} it is attributed with {} of {}",
                source.text, out.date, out.attributed, out.available
            );
            inquiry.finds_in_row(format!("source {}", source.id), says);
        }
    }
    inquiry.tell(verdict, "source rolls forward on every day", "sources roll forward on every day");
}

fn lots(facts: &BooksToVerify, verdict: &mut Verdict) {
    let mut inquiry = Inquiry::new(Checked::Lots);
    for one in &facts.lots {
        inquiry.looks();
        if let Some((date, quantity, cost)) = first_day_below_nothing(one) {
            let says = format!("on {date} {quantity} {} of '{}' at {cost} are left", one.unit, one.material);
            inquiry.finds_in_row(&one.row, says);
        }
    }
    inquiry.tell(verdict, "lot never held less than nothing", "lots never held less than nothing");
}

/// The first day at whose end the lot's quantity or cost is below zero.
fn first_day_below_nothing(lot: &StoredLot) -> Option<(NaiveDate, Decimal, Decimal)> {
    let came = (lot.acquired_on, lot.quantity, lot.cost.amount());
    let moves = lot.moves.iter().map(|moved| (moved.date, moved.quantity, moved.cost.amount()));
    let mut days: BTreeMap<NaiveDate, (Decimal, Decimal)> = BTreeMap::new();
    for (date, quantity, cost) in std::iter::once(came).chain(moves) {
        let day = days.entry(date).or_default();
        *day = (day.0.saturating_add(quantity), day.1.saturating_add(cost));
    }
    let (mut quantity, mut cost) = (Decimal::ZERO, Decimal::ZERO);
    for (date, (more, dearer)) in days {
        quantity = quantity.saturating_add(more);
        cost = cost.saturating_add(dearer);
        if quantity < Decimal::ZERO || cost < Decimal::ZERO {
            return Some((date, quantity, cost));
        }
    }
    None
}

fn tools(facts: &BooksToVerify, verdict: &mut Verdict) {
    let mut inquiry = Inquiry::new(Checked::Tools);
    let mut attributed: HashMap<SourceId, Vec<Decimal>> =
        facts.tools.iter().map(|tool| (tool.source, Vec::new())).collect();
    for one in &facts.attributions {
        if let Some(amounts) = attributed.get_mut(&one.source) {
            amounts.push(one.amount.amount());
        }
    }
    for tool in &facts.tools {
        inquiry.looks();
        let taken = total(attributed.get(&tool.source).into_iter().flatten().copied());
        let most = tool.cost.amount().saturating_sub(tool.salvage.amount());
        if taken > most {
            let says = format!(
                "'{}' is attributed with {taken}, but its cost {} less salvage {} is {most}",
                tool.name, tool.cost, tool.salvage
            );
            inquiry.finds_in_row(&tool.row, says);
        }
        if tool.basis_for_gain.amount() < tool.cost.amount() {
            let says = format!(
                "'{}' counts a gain from {}, which is less than the {} it came in at",
                tool.name, tool.basis_for_gain, tool.cost
            );
            inquiry.finds_in_row(&tool.row, says);
        }
    }
    inquiry.tell(
        verdict,
        "tool is attributed with no more than its cost less salvage",
        "tools are attributed with no more than their cost less salvage",
    );
}
