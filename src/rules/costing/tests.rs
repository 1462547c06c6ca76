mod break_even;
mod overhead;
mod rolling;
mod statements;
mod year;

use chrono::NaiveDate;
use uuid::Uuid;

use super::super::ids::{EpisodeId, ProjectId, SourceId};
use super::super::journal::{EntryKind, Stream};
use super::super::money::{Currency, Money};
use super::super::recording::{Category, CostObject, Label, MovementKind, Side, Source, SourceKind};
use super::*;

fn episode(number: u128) -> EpisodeId {
    EpisodeId(Uuid::from_u128(0xe0 + number))
}

fn project() -> ProjectId {
    ProjectId(Uuid::from_u128(0xa0))
}

fn usd(text: &str) -> Money {
    Money::exact(text.parse().unwrap(), Currency::find("USD").unwrap()).unwrap()
}

fn day(month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, month, day).unwrap()
}

/// A source with one movement that an ordinary entry stands behind.
fn source(number: u128, side: Side, kind: SourceKind, amount: Money) -> SourceFacts {
    SourceFacts {
        source: Source {
            id: SourceId(Uuid::from_u128(number)),
            side,
            kind,
            text: format!("source {number}"),
        },
        given: false,
        movements: vec![moved(1, MovementKind::Incurred, amount)],
        attributed: Vec::new(),
    }
}

fn moved(month: u32, kind: MovementKind, amount: Money) -> MovementFacts {
    MovementFacts { date: day(month, 5), kind, amount, entry_kind: Some(EntryKind::Ordinary) }
}

/// Books in the making: attributing keeps both ends, the source's and the object's.
struct Desk {
    sources: Vec<SourceFacts>,
    own: ObjectFacts,
    episodes: Vec<EpisodeFacts>,
}

fn object(object: CostObject) -> ObjectFacts {
    ObjectFacts { object, attributions: Vec::new(), own_hours: Vec::new(), budget: Vec::new() }
}

impl Desk {
    fn with_two_episodes() -> Self {
        let one = |number| EpisodeFacts {
            episode: episode(number),
            facts: object(CostObject::Episode(episode(number))),
        };
        Self {
            sources: Vec::new(),
            own: object(CostObject::Project(project())),
            episodes: vec![one(1), one(2)],
        }
    }

    /// The object at that place: the project for none, else an episode counted from zero.
    fn part(&mut self, place: Option<usize>) -> &mut ObjectFacts {
        match place {
            Some(place) => &mut self.episodes[place].facts,
            None => &mut self.own,
        }
    }

    /// A new source of `incurred`, of which `amount` goes to the object in that month.
    fn attributes(
        &mut self,
        place: Option<usize>,
        side: Side,
        label: Label,
        month: u32,
        amount: Money,
        incurred: Money,
    ) {
        let number = u128::try_from(self.sources.len()).unwrap() + 1;
        let mut facts = source(number, side, SourceKind::PurchaseLine, incurred);
        let date = day(month, 10);
        facts.attributed.push(DatedAmount { date, amount });
        let one = AttributedAmount { source: facts.source.id, side, label, date, amount };
        self.part(place).attributions.push(one);
        self.sources.push(facts);
    }

    fn costs(&mut self, place: usize, category: Category, amount: &str) {
        let amount = usd(amount);
        self.attributes(Some(place), Side::Cost, Label::Category(category), 3, amount, amount);
    }

    fn earns(&mut self, place: usize, side: Side, stream: Stream, amount: &str) {
        let amount = usd(amount);
        self.attributes(Some(place), side, Label::Stream(stream), 4, amount, amount);
    }

    fn works(&mut self, place: Option<usize>, month: u32, hours: &str) {
        let hours = OwnHours { date: day(month, 10), hours: hours.parse().unwrap() };
        self.part(place).own_hours.push(hours);
    }

    fn statement_facts(&self, place: usize, period: Period) -> StatementFacts {
        StatementFacts {
            episode: self.episodes[place].episode,
            currency: usd("0").currency(),
            period,
            facts: self.episodes[place].facts.clone(),
            sources: self.sources.clone(),
        }
    }

    fn statement(&self, place: usize) -> Statement {
        statement(&self.statement_facts(place, Period::default())).unwrap()
    }

    fn project(&self) -> ProjectStatement {
        project_statement(&ProjectFacts {
            project: project(),
            currency: usd("0").currency(),
            period: Period::default(),
            episodes: self.episodes.clone(),
            own: self.own.clone(),
            sources: self.sources.clone(),
        })
        .unwrap()
    }
}
