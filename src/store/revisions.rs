//! Revisions: labels as they stand, their change, and the history of it. The row of the thing has its name of now, so
//! that whoever reads names needs no history; notes and contact data stand in the history alone.

use std::collections::HashMap;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde_json::{Map, Value};
use uuid::Uuid;

use super::audit::About;
use super::books::{Books, Tx};
use super::error::{Fault, StoreError};
use super::live;
use super::recording::{Mode, Outcome, Request};
use super::records::RecordKept;
use super::schema::{deals, episodes, money_accounts, parties, pieces, projects, records, revisions, tools};
use crate::rules::ids::RecordId;
use crate::rules::recording::Word;
use crate::rules::revisions::{Fields, Labelled, LabelledThing, Labels, Revision, Version, merged, revise};

/// A thing with its labels as they stand.
#[derive(Clone, Debug)]
pub struct ThingLabelled<L> {
    pub id: Uuid,
    /// The record that brought it.
    pub record: RecordId,
    pub now: Labelled<L>,
}

/// What became of a change.
#[derive(Clone, Debug)]
pub struct Revised<L> {
    pub id: Uuid,
    pub mode: Mode,
    pub now: Labelled<L>,
    /// Whether anything was different.
    pub changed: Changed,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Changed {
    Something,
    Nothing,
}

/// A thing's record, version and name, of the rows that stand.
macro_rules! named_in {
    ($tx:expr, $id:expr, $table:ident, $name:ident) => {
        $table::table
            .filter($table::books_id.eq($tx.id.0))
            .filter($table::id.eq($id))
            .filter(live!($table))
            .select(($table::record_id, $table::version, $table::$name))
            .first::<(Uuid, i32, String)>($tx.connection)
            .await
            .optional()?
    };
}

/// Sets the name and whatever else stands in the row, from the version before.
macro_rules! renamed_in {
    ($tx:expr, $id:expr, $revision:expr, $table:ident, $name:ident $(, $column:ident = $value:expr)?) => {
        diesel::update(
            $table::table
                .filter($table::books_id.eq($tx.id.0))
                .filter($table::id.eq($id))
                .filter($table::version.eq($revision.version.0 - 1)),
        )
        .set(($table::version.eq($revision.version.0), $table::$name.eq($revision.labels.title())
            $(, $table::$column.eq($value))?))
        .execute($tx.connection)
        .await?
    };
}

impl Books {
    /// Changes the labels of a thing that the caller has seen in one of the versions `seen`.
    /// # Errors
    /// The refusal of the rules, or what the store could not do; nothing is written then.
    pub async fn revise<L: Labels>(
        &self,
        request: &Request,
        id: Uuid,
        (seen, patch): (&[Version], &Fields),
        render: impl Fn(&Revised<L>) -> Result<Vec<u8>, StoreError>,
    ) -> Result<Outcome, Fault> {
        self.run(request, 200, async |tx| {
            // The books' row is locked, so the version that is looked at is the one that is changed.
            let thing = tx.labelled::<L>(id).await?;
            let (now, changed) = match revise(&thing.now, seen, patch)? {
                None => (thing.now, Changed::Nothing),
                Some(revision) => {
                    tx.write_revision(request, &thing, &revision).await?;
                    let now = Labelled { version: revision.version, labels: revision.labels };
                    (now, Changed::Something)
                }
            };
            Ok(render(&Revised { id, mode: request.mode, now, changed })?)
        })
        .await
    }
}

impl Tx<'_> {
    /// A thing with its labels as they stand.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn labelled<L: Labels>(&mut self, id: Uuid) -> Result<ThingLabelled<L>, StoreError> {
        let row = match L::THING {
            LabelledThing::Party => named_in!(self, id, parties, name),
            LabelledThing::Project => named_in!(self, id, projects, name),
            LabelledThing::Episode => named_in!(self, id, episodes, title),
            LabelledThing::Account => named_in!(self, id, money_accounts, name),
            LabelledThing::Tool => named_in!(self, id, tools, name),
            LabelledThing::Piece => named_in!(self, id, pieces, name),
            LabelledThing::Deal => named_in!(self, id, deals, title),
        };
        let (record, version, name) = row.ok_or_else(|| Self::missing(L::THING.one(), id))?;
        let mut labels = if version == 1 {
            self.first_labels::<L>(id).await?
        } else {
            self.labels_among(&[id]).await?.remove(&id).map(|(_, labels)| labels).unwrap_or_default()
        };
        if let Some(title) = L::FIELDS.first() {
            labels.insert((*title).to_owned(), Value::String(name));
        }
        let labels = serde_json::from_value(Value::Object(labels))?;
        let now = Labelled { version: Version(version), labels };
        Ok(ThingLabelled { id, record: RecordId(record), now })
    }

    /// The labels that the record of a thing gave it; none where it came by a record of another kind.
    async fn first_labels<L: Labels>(&mut self, id: Uuid) -> Result<Fields, StoreError> {
        let facts: Option<Value> = records::table
            .filter(records::books_id.eq(self.id.0))
            .filter(records::id.eq(id))
            .filter(records::word.eq(L::THING.as_str()))
            .filter(records::kind.eq(L::THING.one()))
            .select(records::facts)
            .first(self.connection)
            .await
            .optional()?;
        let Some(Value::Object(facts)) = facts else { return Ok(Map::new()) };
        Ok(facts.into_iter().filter(|(name, _)| L::FIELDS.contains(&name.as_str())).collect())
    }

    /// The last version of these things that were ever changed, with all its labels.
    async fn labels_among(&mut self, ids: &[Uuid]) -> Result<HashMap<Uuid, (Version, Fields)>, StoreError> {
        let rows: Vec<(Uuid, i32, Value)> = revisions::table
            .filter(revisions::books_id.eq(self.id.0))
            .filter(revisions::thing_id.eq_any(ids))
            .distinct_on(revisions::thing_id)
            .order((revisions::thing_id, revisions::version.desc()))
            .select((revisions::thing_id, revisions::version, revisions::labels))
            .load(self.connection)
            .await?;
        let one = |(id, version, labels)| match labels {
            Value::Object(labels) => Ok((id, (Version(version), labels))),
            other => Err(StoreError::Unreadable { column: "revisions.labels", found: other.to_string() }),
        };
        rows.into_iter().map(one).collect()
    }

    async fn write_revision<L: Labels>(
        &mut self,
        request: &Request,
        thing: &ThingLabelled<L>,
        revision: &Revision<L>,
    ) -> Result<(), StoreError> {
        let (id, labels) = (thing.id, &revision.labels);
        let renamed = match L::THING {
            LabelledThing::Party => renamed_in!(self, id, revision, parties, name),
            LabelledThing::Project => renamed_in!(self, id, revision, projects, name),
            LabelledThing::Episode => {
                renamed_in!(self, id, revision, episodes, title, planned_on = labels.planned_on())
            }
            LabelledThing::Account => renamed_in!(self, id, revision, money_accounts, name),
            LabelledThing::Tool => renamed_in!(self, id, revision, tools, name),
            LabelledThing::Piece => renamed_in!(self, id, revision, pieces, name),
            LabelledThing::Deal => renamed_in!(self, id, revision, deals, title),
        };
        if renamed != 1 {
            return Err(Self::missing(L::THING.one(), id));
        }
        let audit = self.note(&request.act, About::Record(thing.record)).await?;
        diesel::insert_into(revisions::table)
            .values((
                revisions::books_id.eq(self.id.0),
                revisions::thing_id.eq(id),
                revisions::version.eq(revision.version.0),
                revisions::thing.eq(L::THING.as_str()),
                revisions::audit_id.eq(audit),
                revisions::changed.eq(Value::Object(revision.changed.clone())),
                revisions::before.eq(Value::Object(revision.before.clone())),
                revisions::labels.eq(serde_json::to_value(labels)?),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// Shows things that are read as the record that made them with their labels of now. A record that was taken back
    /// has no version: nobody changes it any more.
    pub(super) async fn label_anew(&mut self, word: Word, kept: &mut [RecordKept]) -> Result<(), StoreError> {
        let Some(thing) = LabelledThing::shown_as_record(word) else { return Ok(()) };
        let made = |one: &RecordKept| one.kind == thing.one();
        let ids: Vec<Uuid> = kept.iter().filter(|one| made(one)).map(|one| one.id.0).collect();
        let mut changed = self.labels_among(&ids).await?;
        for one in kept.iter_mut().filter(|one| made(one)) {
            let mut version = Version(1);
            if let (Some((last, labels)), Value::Object(facts)) = (changed.remove(&one.id.0), &mut one.facts)
            {
                *facts = merged(facts, &labels);
                if let Some(title) = thing.title_among(&labels) {
                    one.text = thing.made_in_words(title);
                }
                version = last;
            }
            one.version = one.reversed_by.is_none().then_some(version);
        }
        Ok(())
    }
}
