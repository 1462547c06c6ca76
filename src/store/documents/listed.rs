//! The list of documents with what each proves, and the purchases that none proves.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::dsl::{exists, not};
use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{BigInt, Date, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::Deserialize;
use uuid::Uuid;

use crate::rules::ids::{DocumentId, RecordId};
use crate::rules::rows::{DocumentKind, DocumentStanding, FileSum, Holding, Location, Pixels};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::records::After;
use crate::store::schema::{document_attachments, documents, record_reversals, records};
use crate::store::{live, read_as};

/// A document as a list shows it.
#[derive(Clone, Debug)]
pub struct DocumentListed {
    pub id: DocumentId,
    pub name: Option<String>,
    pub kind: DocumentKind,
    pub pixels: Option<Pixels>,
    pub location: Location,
    /// What a PDF holds beside its pages.
    pub holds: Vec<Holding>,
    pub received_on: NaiveDate,
    pub recorded_at: DateTime<Utc>,
    pub sum: FileSum,
    pub size: i32,
    /// The records that it proves; none: it waits in the inbox.
    pub proves: Vec<RecordId>,
}

/// Which documents a list shows.
#[derive(Clone, Debug, Default)]
pub struct DocumentFilter {
    /// The first and the last day on which they came.
    pub from: Option<NaiveDate>,
    pub to: Option<NaiveDate>,
    pub standing: Option<DocumentStanding>,
    /// Those that prove it.
    pub record: Option<RecordId>,
}

/// A purchase that no document proves.
#[derive(Clone, Debug, QueryableByName)]
pub struct Unproved {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Date)]
    pub date: NaiveDate,
    #[diesel(sql_type = Text)]
    pub text: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub party_id: Option<Uuid>,
}

/// From $2 to $3 and after the place $4, $5.
const UNPROVED: &str = "\
SELECT id, date, text, party_id FROM unproved_purchases
WHERE books_id = $1 AND ($2::date IS NULL OR date >= $2) AND ($3::date IS NULL OR date <= $3)
AND ($4::date IS NULL OR (date, id) > ($4, $5))
ORDER BY date, id LIMIT $6";

type Row = (
    Uuid,
    Option<String>,
    String,
    Option<i64>,
    Option<i64>,
    String,
    NaiveDate,
    DateTime<Utc>,
    Vec<u8>,
    i32,
    serde_json::Value,
);

/// What only the record of a document says. Papers that came before anybody looked into them hold nothing by it.
#[derive(Deserialize)]
struct Found {
    #[serde(default)]
    holds: Vec<Holding>,
}

#[diesel::dsl::auto_type]
fn documents_with_record(books: Uuid) -> _ {
    let record: diesel::dsl::And<
        diesel::dsl::Eq<records::books_id, documents::books_id>,
        diesel::dsl::Eq<records::id, documents::record_id>,
    > = records::books_id.eq(documents::books_id).and(records::id.eq(documents::record_id));
    documents::table.inner_join(records::table.on(record)).filter(documents::books_id.eq(books)).select((
        documents::id,
        documents::name,
        documents::kind,
        documents::width,
        documents::height,
        documents::location,
        documents::received_on,
        records::created_at,
        documents::sha256,
        documents::size,
        records::facts,
    ))
}

/// An attachment counts while nobody took back its own record or the one that is proved.
macro_rules! counts {
    () => {
        live!(document_attachments).and(not(exists(
            record_reversals::table
                .filter(record_reversals::books_id.eq(document_attachments::books_id))
                .filter(record_reversals::record_id.eq(document_attachments::proves)),
        )))
    };
}

impl Tx<'_> {
    /// A page of the documents that stand, the oldest first, at most `limit`.
    /// # Errors
    /// What the database could not do.
    pub async fn documents_listed(
        &mut self,
        filter: &DocumentFilter,
        after: Option<After>,
        limit: i64,
    ) -> Result<Vec<DocumentListed>, StoreError> {
        let proving = || {
            document_attachments::table
                .filter(document_attachments::books_id.eq(documents::books_id))
                .filter(document_attachments::document_id.eq(documents::id))
                .filter(counts!())
        };
        let mut query = documents_with_record(self.id.0)
            .filter(live!(documents))
            .order((documents::received_on, documents::id))
            .limit(limit)
            .into_boxed();
        if let Some(from) = filter.from {
            query = query.filter(documents::received_on.ge(from));
        }
        if let Some(to) = filter.to {
            query = query.filter(documents::received_on.le(to));
        }
        match filter.standing {
            Some(DocumentStanding::Inbox) => query = query.filter(not(exists(proving()))),
            Some(DocumentStanding::Attached) => query = query.filter(exists(proving())),
            None => {}
        }
        if let Some(record) = filter.record {
            query = query.filter(exists(proving().filter(document_attachments::proves.eq(record.0))));
        }
        if let Some(after) = after {
            let later = documents::received_on.eq(after.date).and(documents::id.gt(after.id));
            query = query.filter(documents::received_on.gt(after.date).or(later));
        }
        let rows: Vec<Row> = query.load(self.connection).await?;
        self.with_what_they_prove(rows).await
    }

    /// One document, whether it stands or was taken back.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn document(&mut self, id: DocumentId) -> Result<DocumentListed, StoreError> {
        let rows: Vec<Row> =
            documents_with_record(self.id.0).filter(documents::id.eq(id.0)).load(self.connection).await?;
        let found = self.with_what_they_prove(rows).await?;
        found.into_iter().next().ok_or_else(|| Self::missing("document", id))
    }

    async fn with_what_they_prove(&mut self, rows: Vec<Row>) -> Result<Vec<DocumentListed>, StoreError> {
        let ids: Vec<Uuid> = rows.iter().map(|row| row.0).collect();
        let proved = self.proved_by(&ids).await?;
        let listed = rows.into_iter().map(|row| {
            let (id, name, kind, width, height, location, received_on, recorded_at, sum, size, facts) = row;
            let unreadable =
                |column| move || StoreError::Unreadable { column, found: "out of range".to_owned() };
            let number = |number: i64| u32::try_from(number).ok().ok_or_else(unreadable("documents.width"));
            let pixels = width.zip(height).map(|(width, height)| {
                Ok::<_, StoreError>(Pixels { width: number(width)?, height: number(height)? })
            });
            let proves = proved.iter().filter(|(document, _)| document.0 == id).map(|(_, record)| *record);
            Ok(DocumentListed {
                id: DocumentId(id),
                name,
                kind: read_as("documents.kind", &kind, DocumentKind::named)?,
                pixels: pixels.transpose()?,
                location: read_as("documents.location", &location, Location::named)?,
                holds: serde_json::from_value::<Found>(facts)?.holds,
                received_on,
                recorded_at,
                sum: FileSum(sum.try_into().ok().ok_or_else(unreadable("documents.sha256"))?),
                size,
                proves: proves.collect(),
            })
        });
        listed.collect()
    }

    /// What these documents prove, as it stands.
    pub(super) async fn proved_by(
        &mut self,
        ids: &[Uuid],
    ) -> Result<Vec<(DocumentId, RecordId)>, StoreError> {
        let rows: Vec<(Uuid, Uuid)> = document_attachments::table
            .filter(document_attachments::books_id.eq(self.id.0))
            .filter(document_attachments::document_id.eq_any(ids))
            .filter(counts!())
            .order((document_attachments::document_id, document_attachments::proves))
            .select((document_attachments::document_id, document_attachments::proves))
            .distinct()
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().map(|(document, record)| (DocumentId(document), RecordId(record))).collect())
    }

    /// The documents that prove a record.
    /// # Errors
    /// What the database could not do.
    pub async fn documents_of(&mut self, record: RecordId) -> Result<Vec<DocumentId>, StoreError> {
        let ids: Vec<Uuid> = document_attachments::table
            .filter(document_attachments::books_id.eq(self.id.0))
            .filter(document_attachments::proves.eq(record.0))
            .filter(counts!())
            .order(document_attachments::document_id)
            .select(document_attachments::document_id)
            .distinct()
            .load(self.connection)
            .await?;
        Ok(ids.into_iter().map(DocumentId).collect())
    }

    /// The purchases that no document proves, the oldest first, at most `limit`.
    /// # Errors
    /// What the database could not do.
    pub async fn unproved_purchases(
        &mut self,
        (from, to): (Option<NaiveDate>, Option<NaiveDate>),
        after: Option<After>,
        limit: i64,
    ) -> Result<Vec<Unproved>, StoreError> {
        Ok(sql_query(UNPROVED)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Nullable<Date>, _>(from)
            .bind::<Nullable<Date>, _>(to)
            .bind::<Nullable<Date>, _>(after.map(|after| after.date))
            .bind::<Nullable<SqlUuid>, _>(after.map(|after| after.id))
            .bind::<BigInt, _>(limit)
            .load(self.connection)
            .await?)
    }
}
