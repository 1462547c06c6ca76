//! A business that does things at random, through the public door: what is recorded must always reconcile.

use std::sync::Arc;

use chrono::{Datelike, Days, NaiveDate};
use serde_json::{Value, json};

use ledgerboard::rules::recording::{AccountingMethod, MaterialsFlow};

use crate::chance::Chance;
use crate::world::{Caller, Kept, World};

mod desk;
mod labels;
mod mirror;
mod money;
pub mod operations;
mod papers;
mod pieces;
mod purses;
mod reckoning;
mod shelf;
mod sponsors;
mod tools;
mod trade;
mod years;

/// Cents as an amount of dollars.
pub fn dollars(cents: i64) -> String {
    let sign = if cents < 0 { "-" } else { "" };
    format!("{sign}{}.{:02}", cents.abs() / 100, cents.abs() % 100)
}

/// What came of everything that was sent.
#[derive(Debug, Default)]
pub struct Tally {
    pub recorded: usize,
    pub taken_back: usize,
    /// By the last part of the path.
    pub kinds: std::collections::BTreeMap<String, usize>,
    pub refused: std::collections::BTreeMap<String, usize>,
    /// The document's names of the operations that recorded something.
    pub operations: std::collections::BTreeSet<String>,
}

/// Words that take several of their kind at once.
const IN_BATCHES: [&str; 14] = [
    "accounts",
    "attributions",
    "deals",
    "episodes",
    "furniture",
    "gifts",
    "labour",
    "openings",
    "parties",
    "payouts",
    "projects",
    "purchases",
    "tools",
    "trips",
];

/// The business and what it knows of its own things.
pub struct Business {
    pub world: Arc<World>,
    owner: Caller,
    seed: u64,
    mirror: mirror::Mirror,
    purses: purses::Purses,
    papers: papers::Papers,
    /// Of what was given another name, the field and the name, by address.
    names: std::collections::BTreeMap<String, (&'static str, String)>,
    /// Only of books that draw first in, first out.
    shelf: Option<shelf::Shelf>,
    chance: Chance,
    today: NaiveDate,
    bank: String,
    pocket: String,
    credit: String,
    /// In euros.
    travel: String,
    sponsor: String,
    agency: String,
    platform: String,
    project: String,
    episodes: Vec<String>,
    /// What was set up later may have been taken back since.
    further_accounts: Vec<String>,
    further_episodes: Vec<String>,
    lots: Vec<String>,
    tools: Vec<String>,
    pieces: Vec<String>,
    /// Those that were sold once, whatever became of the sale.
    sold: Vec<String>,
    deals: Vec<String>,
    /// The rate of those in another currency.
    rates: std::collections::BTreeMap<String, Value>,
    pools: Vec<String>,
    /// Each with its deal.
    promises: Vec<(String, String)>,
    gifts: Vec<String>,
    purchases: Vec<String>,
    records: Vec<String>,
    /// Numbers of entries, each with its record.
    entries: Vec<(i64, String)>,
    /// A closing ends the choice of days; it moves on with the year.
    first_open: NaiveDate,
    pub tally: Tally,
}

impl Business {
    pub fn open(seed: u64, kept: &Kept) -> Self {
        let world = Arc::new(World::keeping(kept));
        let owner = world.owner();
        Self::owned_by(owner, world, seed, kept)
    }

    /// Further books beside the first ones of a world.
    pub fn open_beside(world: &Arc<World>, seed: u64, kept: &Kept) -> Self {
        let mut owner = world.owner();
        let made = owner.records(
            "/v1/books",
            json!({ "name": format!("Workshop {seed}"), "base_currency": kept.currency, "began_on": kept.began_on,
                    "accounting_method": kept.method, "materials_timing": kept.timing,
                    "materials_flow": kept.flow }),
        );
        owner.token = made["token"].as_str().unwrap().to_owned();
        let mut business = Self::owned_by(owner, Arc::clone(world), seed, kept);
        business.tally.operations.insert(operations::named("POST", "/v1/books"));
        business
    }

    fn owned_by(owner: Caller, world: Arc<World>, seed: u64, kept: &Kept) -> Self {
        let project = owner.has_project("The reading room");
        let episodes = all_made(&owner, "/v1/episodes", &episodes_of(&project));
        let start = NaiveDate::from_ymd_opt(2025, 1, 2).unwrap();
        let [bank, credit, pocket, travel] = all_made(&owner, "/v1/accounts", &accounts());
        let [sponsor, agency, platform] = all_made(&owner, "/v1/parties", &parties());
        let accrual = kept.method == AccountingMethod::Accrual;
        Self {
            purses: purses::Purses::of(&[&bank, &credit, &travel], accrual),
            bank,
            pocket,
            credit,
            travel,
            sponsor,
            agency,
            platform,
            episodes: episodes.to_vec(),
            project,
            world,
            owner,
            seed,
            mirror: mirror::Mirror::default(),
            shelf: (kept.flow == MaterialsFlow::Fifo).then(|| shelf::Shelf::of(kept.timing)),
            chance: Chance::of(seed),
            today: start,
            further_accounts: Vec::new(),
            further_episodes: Vec::new(),
            rates: std::collections::BTreeMap::new(),
            papers: papers::Papers::default(),
            names: std::collections::BTreeMap::new(),
            pools: Vec::new(),
            entries: Vec::new(),
            lots: Vec::new(),
            tools: Vec::new(),
            pieces: Vec::new(),
            sold: Vec::new(),
            deals: Vec::new(),
            promises: Vec::new(),
            gifts: Vec::new(),
            purchases: Vec::new(),
            records: Vec::new(),
            first_open: NaiveDate::from_ymd_opt(2024, 12, 1).unwrap(),
            tally: Tally::default(),
        }
    }

    /// Does things until that many were recorded, reversals among them.
    pub fn trades(&mut self, records: usize) {
        let (end, mut tries) = (self.tally.recorded + records, 0);
        while self.tally.recorded < end {
            tries += 1;
            assert!(tries < records * 4, "too much is refused: {:#?}", self.tally);
            // A thousand records are not quite two years.
            if self.chance.one_in(3) {
                self.today = self.today.succ_opt().unwrap();
            }
            self.does_something();
        }
    }

    /// Sends a record, at times in a batch or after a look at what it would do; a refusal of the rules is part of the
    /// trade, anything else is a fault.
    fn sends(&mut self, path: &str, body: Value) -> Option<Value> {
        let word = path.trim_start_matches("/v1/");
        let (address, sent) = if IN_BATCHES.contains(&word) && self.chance.one_in(4) {
            let copies = vec![body.clone(); self.chance.below(2) + 1];
            (format!("{path}/batch"), json!({ "items": copies }))
        } else {
            (path.to_owned(), body.clone())
        };
        let looked =
            self.chance.one_in(8).then(|| self.owner.post(&format!("{address}?dry_run=true"), &sent));
        let reply = self.owner.post(&address, &sent);
        if let Some(looked) = looked {
            let expected = if reply.status == 201 { 200 } else { reply.status };
            assert_eq!(looked.status, expected, "{address} {sent}: {} and {}", looked.text, reply.text);
            if reply.status == 201 {
                assert_eq!(postings_of(&looked.json()), postings_of(&reply.json()), "{address} {sent}");
            }
        }
        let kind = path.rsplit('/').next().unwrap().to_owned();
        match reply.status {
            201 => {
                self.tally.operations.insert(operations::named("POST", &address));
                let answer = reply.json();
                let answers = answer["items"].as_array().cloned().unwrap_or_else(|| vec![answer]);
                answers.iter().for_each(|answer| self.hears(path, &kind, &body, answer));
                answers.last().cloned()
            }
            404 | 409 | 422 => {
                assert!(
                    !reply.text.contains("a rule that the database holds by itself"),
                    "{path} {body}: {}",
                    reply.text
                );
                assert!(!reply.text.contains("/problems/invalid-request"), "{path} {body}: {}", reply.text);
                let detail = reply.json()["detail"].as_str().unwrap_or_default().to_owned();
                *self.tally.refused.entry(format!("{kind}: {}", without_figures(&detail))).or_default() += 1;
                None
            }
            other => panic!("{other} for POST {path} {body}: {}", reply.text),
        }
    }

    fn hears(&mut self, path: &str, kind: &str, body: &Value, answer: &Value) {
        self.tally.recorded += 1;
        *self.tally.kinds.entry(kind.to_owned()).or_default() += 1;
        self.mirror.hears(answer);
        self.remembers(answer);
        self.purses.hears(path, body, answer);
        self.papers.hears(path, body, answer);
        if let Some(shelf) = &mut self.shelf {
            shelf.hears(path, body, answer);
        }
    }

    fn remembers(&mut self, answer: &Value) {
        let record = answer["id"].as_str().unwrap().to_owned();
        let entries = answer["entries"].as_array().unwrap().iter();
        self.entries.extend(entries.map(|one| (one["number"].as_i64().unwrap(), record.clone())));
        self.records.push(record);
        for thing in answer["things"].as_array().unwrap() {
            let id = thing["id"].as_str().unwrap().to_owned();
            match thing["what"].as_str().unwrap() {
                "materials" => self.lots.push(id),
                "tools" => self.tools.push(id),
                "furniture" => self.pieces.push(id),
                "deals" => self.deals.push(id),
                "episodes" => self.further_episodes.push(id),
                "accounts" => {
                    self.purses.watches(&id);
                    self.further_accounts.push(id);
                }
                "promises" => self.promises.push((answer["id"].as_str().unwrap().to_owned(), id)),
                _ => {}
            }
        }
    }

    /// Mostly today, at times some days back, never in a closed period.
    fn day(&mut self) -> String {
        let back = if self.chance.one_in(4) { self.chance.below(25) } else { 0 };
        let day = self.today - Days::new(u64::try_from(back).unwrap());
        day.max(self.first_open).to_string()
    }

    fn episode(&mut self) -> String {
        if !self.further_episodes.is_empty() && self.chance.one_in(8) {
            return self.chance.pick(&self.further_episodes).clone();
        }
        self.chance.pick(&self.episodes).clone()
    }

    /// At times it was not in the books' own currency.
    fn abroad(&mut self, mut body: Value) -> Value {
        if self.chance.one_in(5) {
            let (currency, rate) = *self.chance.pick(&[
                ("EUR", "1.0731"),
                ("GBP", "1.284575"),
                ("KWD", "3.26"),
                ("MXN", "0.0543"),
            ]);
            (body["currency"], body["rate"]) = (json!(currency), json!(rate));
        }
        body
    }

    /// Nobody, one, or several with shares.
    fn for_whom(&mut self) -> Value {
        match self.chance.below(5) {
            0 => json!([]),
            1 => json!([{ "project": self.project }]),
            2 => {
                let share = self.chance.cents(9_900);
                let (first, second) = (&self.episodes[0], &self.episodes[self.chance.below(3) + 1]);
                json!([{ "episode": first, "share": dollars(share) },
                       { "episode": second, "share": dollars(10_000 - share) }])
            }
            3 => {
                json!([{ "episode": self.episodes[1] }, { "episode": self.episodes[2] }, { "project": self.project }])
            }
            _ => json!([{ "episode": self.episode() }]),
        }
    }

    /// What happened to a source, for the person who has to find the fault.
    fn story_of(&self, row: &str) -> Vec<String> {
        let Some(source) = row.strip_prefix("source ") else { return Vec::new() };
        let rows = "SELECT s.date || ' ' || what || ' ' || amount || ' by ' || r.word || ' ' || r.kind || ' of ' || r.date \
                    || coalesce(' taken back by ' || x.reversal_id, '') || ' ' || r.id AS row, r.id AS made, s.date \
                    FROM (SELECT record_id, date, kind AS what, amount, source_id FROM movements UNION ALL \
                          SELECT record_id, date, 'to ' || right(coalesce(episode_id, project_id)::text, 4), amount, \
                          source_id FROM attributions) s \
                    JOIN records r ON r.id = s.record_id LEFT JOIN record_reversals x ON x.record_id = r.id";
        self.world
            .texts(&format!("SELECT row FROM ({rows} WHERE source_id = '{source}') t ORDER BY made, date"))
    }

    /// Every source rolls forward on every day, the journal ties, and each statement says so.
    pub fn reconciles(&self) {
        for verdict in self.world.verdicts() {
            let rows: Vec<&str> = verdict.breaches.iter().filter_map(|one| one.row.as_deref()).collect();
            let stories: Vec<_> = rows.into_iter().flat_map(|row| self.story_of(row)).collect();
            assert!(verdict.holds(), "{:#?}\n{stories:#?}\n{:#?}", verdict.breaches, self.tally);
        }
        let below = "SELECT count(*) FROM (SELECT sum(sum(amount)) OVER (PARTITION BY source_id, episode_id, project_id, \
                     label ORDER BY date) AS given FROM attributions GROUP BY source_id, episode_id, project_id, label, \
                     date) days WHERE given < 0";
        assert_eq!(self.world.count(below), 0, "an episode has less than nothing of a source");
        let roll = self.owner.reads("/v1/sources");
        let unsound: Vec<&Value> =
            roll["sources"].as_array().unwrap().iter().filter(|one| one["rolls_forward"] != true).collect();
        assert!(unsound.is_empty(), "{unsound:#?}");
        assert_eq!(roll["reconciles"], true, "{:#}", roll["ledger"]);
        // Nothing is dated after the end of this year, so the tools agree with the ledger on that day.
        let tools = self.owner.get(&format!("/v1/tax-years/{}/tools", self.today.year()));
        if tools.status == 200 {
            let accounts = tools.json()["accounts"].clone();
            assert!(accounts.as_array().unwrap().iter().all(|one| one["agrees"] == true), "{accounts:#}");
        }
        let project = self.owner.reads(&format!("/v1/projects/{}/statement", self.project));
        assert_eq!(project["total"]["reconciles"], true);
        let again = self.owner.get(&format!("/v1/projects/{}/statement", self.project)).text;
        assert_eq!(project, serde_json::from_str::<Value>(&again).unwrap());
    }
}

/// The things of a batch, in one request.
fn all_made<const MANY: usize>(owner: &Caller, path: &str, items: &[Value; MANY]) -> [String; MANY] {
    let answer = owner.records(&format!("{path}/batch"), json!({ "items": items.as_slice() }));
    let made = answer["items"].as_array().unwrap().iter();
    let made: Vec<String> = made.map(|one| one["id"].as_str().unwrap().to_owned()).collect();
    made.try_into().unwrap()
}

fn accounts() -> [Value; 4] {
    [
        json!({ "name": "the bank", "kind": "bank" }),
        json!({ "name": "credit at the timber yard", "kind": "store_credit" }),
        json!({ "name": "own pocket", "kind": "own_pocket" }),
        json!({ "name": "travel money", "kind": "bank", "currency": "EUR" }),
    ]
}

fn parties() -> [Value; 3] {
    [
        json!({ "name": "Merrowbank Paints", "role": "sponsor" }),
        json!({ "name": "Oddfellow Finch Bookings", "role": "agency" }),
        json!({ "name": "Tarnhill Pictures", "role": "platform" }),
    ]
}

fn episodes_of(project: &str) -> [Value; 4] {
    ["The floor", "The shelves", "The window seat", "The lamp"]
        .map(|title| json!({ "title": title, "project": project }))
}

/// What an answer posts and attributes, without the ids that it gives out.
fn postings_of(answer: &Value) -> Vec<Value> {
    let items = answer["items"].as_array().cloned().unwrap_or_else(|| vec![answer.clone()]);
    let entries = items.iter().flat_map(|item| item["entries"].as_array().unwrap()).flat_map(|entry| {
        entry["postings"].as_array().unwrap().iter().map(|one| json!([entry["date"], entry["kind"], one]))
    });
    let given = items.iter().flat_map(|item| item["attributions"].as_array().unwrap()).map(|one| {
        json!([one["date"], one["episode"], one["project"], one["category"], one["side"], one["amount"]])
    });
    entries.chain(given).collect()
}

/// So that refusals of one kind are counted together.
fn without_figures(text: &str) -> String {
    text.split(' ')
        .filter(|word| !word.chars().any(|sign| sign.is_ascii_digit()))
        .collect::<Vec<_>>()
        .join(" ")
}
