//! A business that does things at random, through the public door: what is recorded must always reconcile.

use std::rc::Rc;

use chrono::{Datelike, Days, NaiveDate};
use serde_json::{Value, json};

use ledgerboard::rules::recording::MaterialsFlow;

use crate::chance::Chance;
use crate::world::{Caller, Kept, World};

mod mirror;
mod pieces;
mod shelf;
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
}

/// The business and what it knows of its own things.
pub struct Business {
    pub world: Rc<World>,
    owner: Caller,
    seed: u64,
    mirror: mirror::Mirror,
    /// Only of books that draw first in, first out.
    shelf: Option<shelf::Shelf>,
    chance: Chance,
    today: NaiveDate,
    bank: String,
    pocket: String,
    credit: String,
    sponsor: String,
    agency: String,
    platform: String,
    project: String,
    episodes: Vec<String>,
    lots: Vec<String>,
    tools: Vec<String>,
    pieces: Vec<String>,
    /// Those that were sold once, whatever became of the sale.
    sold: Vec<String>,
    deals: Vec<String>,
    /// Each with its deal.
    promises: Vec<(String, String)>,
    gifts: Vec<String>,
    purchases: Vec<String>,
    records: Vec<String>,
    /// A closing ends the choice of days; it moves on with the year.
    first_open: NaiveDate,
    pub tally: Tally,
}

impl Business {
    pub fn open(seed: u64, kept: &Kept) -> Self {
        let world = Rc::new(World::keeping(kept));
        let owner = world.owner();
        Self::owned_by(owner, world, seed, kept)
    }

    /// Further books beside the first ones of a world.
    pub fn open_beside(world: &Rc<World>, seed: u64, kept: &Kept) -> Self {
        let mut owner = world.owner();
        let made = owner.records(
            "/v1/books",
            json!({ "name": format!("Workshop {seed}"), "base_currency": kept.currency, "began_on": kept.began_on,
                    "accounting_method": kept.method, "materials_timing": kept.timing,
                    "materials_flow": kept.flow }),
        );
        owner.token = made["token"].as_str().unwrap().to_owned();
        Self::owned_by(owner, Rc::clone(world), seed, kept)
    }

    fn owned_by(owner: Caller, world: Rc<World>, seed: u64, kept: &Kept) -> Self {
        let project = owner.has_project("The reading room");
        let titles = ["The floor", "The shelves", "The window seat", "The lamp"];
        let start = NaiveDate::from_ymd_opt(2025, 1, 2).unwrap();
        Self {
            bank: owner.has_account("bank"),
            pocket: owner.has_account("own_pocket"),
            credit: owner.has_account("store_credit"),
            sponsor: owner.has_party("Merrowbank Paints", "sponsor"),
            agency: owner.has_party("Oddfellow Finch Bookings", "agency"),
            platform: owner.has_party("Tarnhill Pictures", "platform"),
            episodes: titles.map(|title| owner.has_episode(&project, title)).to_vec(),
            project,
            world,
            owner,
            seed,
            mirror: mirror::Mirror::default(),
            shelf: (kept.flow == MaterialsFlow::Fifo).then(shelf::Shelf::default),
            chance: Chance::of(seed),
            today: start,
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

    /// Sends a record; a refusal of the rules is part of the trade, anything else is a fault.
    fn sends(&mut self, path: &str, body: Value) -> Option<Value> {
        let reply = self.owner.post(path, &body);
        let kind = path.rsplit('/').next().unwrap().to_owned();
        match reply.status {
            201 => {
                self.tally.recorded += 1;
                *self.tally.kinds.entry(kind).or_default() += 1;
                let answer = reply.json();
                self.mirror.hears(&answer);
                self.remembers(&answer);
                if let Some(shelf) = &mut self.shelf {
                    shelf.hears(path, &body, &answer);
                }
                Some(answer)
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

    fn remembers(&mut self, answer: &Value) {
        self.records.push(answer["id"].as_str().unwrap().to_owned());
        for thing in answer["things"].as_array().unwrap() {
            let id = thing["id"].as_str().unwrap().to_owned();
            match thing["what"].as_str().unwrap() {
                "materials" => self.lots.push(id),
                "tools" => self.tools.push(id),
                "furniture" => self.pieces.push(id),
                "deals" => self.deals.push(id),
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
        self.chance.pick(&self.episodes).clone()
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

/// So that refusals of one kind are counted together.
fn without_figures(text: &str) -> String {
    text.split(' ')
        .filter(|word| !word.chars().any(|sign| sign.is_ascii_digit()))
        .collect::<Vec<_>>()
        .join(" ")
}
