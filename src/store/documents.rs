//! Documents: files under their sums, what each proves, and what is not proved yet.

mod listed;

use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{BigInt, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::read_as;
use super::recording::ordinal;
use super::schema::{document_attachments, document_files, documents, records};
use crate::rules::documents::{AttachFacts, NewDocument, RecordToProve, SameFile};
use crate::rules::ids::{DocumentId, PartyId, RecordId};
use crate::rules::recording::Word;
use crate::rules::rows::{
    Document, DocumentAttachment, DocumentKind, DocumentOnHand, FileBytes, FileSum, Proved,
};

pub use listed::{DocumentFilter, DocumentListed, Unproved};

/// What all files of the books come to, read without the files.
const ROOM_TAKEN: &str = "\
SELECT coalesce(sum(size), 0)::bigint AS taken
FROM (SELECT DISTINCT sha256, size FROM documents WHERE books_id = $1) AS files";

#[derive(QueryableByName)]
struct TakenRow {
    #[diesel(sql_type = BigInt)]
    taken: i64,
}

/// A file on its way out.
#[derive(Clone, Debug)]
pub struct FileKept {
    pub kind: DocumentKind,
    pub name: Option<String>,
    pub sum: FileSum,
    pub bytes: Vec<u8>,
}

/// What the rules ask about a file that comes in.
#[derive(Clone, Debug)]
pub struct ReceiveFacts {
    /// What all files of the books come to, in bytes.
    pub kept: u64,
    pub same: Option<SameFile>,
    pub proves: Option<RecordToProve>,
}

impl Tx<'_> {
    pub(super) async fn add_document(
        &mut self,
        record: RecordId,
        document: &Document,
    ) -> Result<(), StoreError> {
        let (books, sum) = (self.id.0, document.sum.0.as_slice());
        diesel::insert_into(document_files::table)
            .values((
                document_files::books_id.eq(books),
                document_files::sha256.eq(sum),
                document_files::bytes.eq(&*document.bytes.0),
            ))
            .on_conflict_do_nothing()
            .execute(self.connection)
            .await?;
        diesel::insert_into(documents::table)
            .values((
                documents::books_id.eq(books),
                documents::id.eq(document.id.0),
                documents::record_id.eq(record.0),
                documents::name.eq(&document.name),
                documents::kind.eq(document.kind.as_str()),
                documents::width.eq(document.pixels.map(|pixels| i64::from(pixels.width))),
                documents::height.eq(document.pixels.map(|pixels| i64::from(pixels.height))),
                documents::location.eq(document.location.as_str()),
                documents::received_on.eq(document.received_on),
                documents::sha256.eq(sum),
                documents::size.eq(ordinal(document.bytes.0.len())),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_document_attachment(
        &mut self,
        record: RecordId,
        attachment: DocumentAttachment,
    ) -> Result<(), StoreError> {
        let proves = match attachment.proves {
            Proved::ThisRecord => record,
            Proved::Record(other) => other,
        };
        diesel::insert_into(document_attachments::table)
            .values((
                document_attachments::books_id.eq(self.id.0),
                document_attachments::record_id.eq(record.0),
                document_attachments::document_id.eq(attachment.document.0),
                document_attachments::proves.eq(proves.0),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// # Errors
    /// [`StoreError::UnknownId`] for the record it is to prove.
    pub async fn receive_facts(&mut self, new: &NewDocument) -> Result<ReceiveFacts, StoreError> {
        let taken: TakenRow =
            sql_query(ROOM_TAKEN).bind::<SqlUuid, _>(self.id.0).get_result(self.connection).await?;
        let same: Option<(Uuid, chrono::NaiveDate)> = documents::table
            .filter(documents::books_id.eq(self.id.0))
            .filter(documents::sha256.eq(new.bytes.sum().0.as_slice()))
            .order(documents::id)
            .select((documents::id, documents::received_on))
            .first(self.connection)
            .await
            .optional()?;
        let proves = match new.record {
            Some(record) => Some(self.record_to_prove(record).await?),
            None => None,
        };
        Ok(ReceiveFacts {
            kept: u64::try_from(taken.taken).unwrap_or_default(),
            same: same.map(|(id, received_on)| SameFile { id: DocumentId(id), received_on }),
            proves,
        })
    }

    /// # Errors
    /// [`StoreError::NotFound`] for the document, [`StoreError::UnknownId`] for the record.
    pub async fn attach_facts(
        &mut self,
        document: DocumentId,
        record: RecordId,
    ) -> Result<AttachFacts, StoreError> {
        let named = async |tx: &mut Self| Ok(tx.documents_on_hand(&[document]).await?.into_iter().next());
        let found: Result<_, StoreError> = named(self).await;
        let missing = || Self::missing("document", document);
        let document = found.ok().flatten().ok_or_else(missing)?;
        let proves = self.proved_by(&[document.id.0]).await?;
        Ok(AttachFacts {
            proves: proves.into_iter().map(|(_, record)| record).collect(),
            record: self.record_to_prove(record).await?,
            document,
        })
    }

    /// Those documents, in the order they are asked for.
    /// # Errors
    /// [`StoreError::UnknownId`].
    pub async fn documents_on_hand(&mut self, ids: &[DocumentId]) -> Result<Vec<DocumentOnHand>, StoreError> {
        let wanted: Vec<Uuid> = ids.iter().map(|id| id.0).collect();
        let record = records::books_id.eq(documents::books_id).and(records::id.eq(documents::record_id));
        let rows: Vec<(Uuid, Uuid, String)> = documents::table
            .inner_join(records::table.on(record))
            .filter(documents::books_id.eq(self.id.0))
            .filter(documents::id.eq_any(&wanted))
            .select((documents::id, documents::record_id, records::text))
            .load(self.connection)
            .await?;
        let makers: Vec<Uuid> = rows.iter().map(|(_, record, _)| *record).collect();
        let taken_back = self.taken_back_among(&makers).await?;
        let on_hand = |id: &DocumentId| {
            let unknown = || StoreError::UnknownId { what: "documents".to_owned(), id: id.0 };
            let (_, record, text) = rows.iter().find(|(one, ..)| *one == id.0).ok_or_else(unknown)?;
            let taken_back = taken_back.get(record).map(|(by, _)| *by);
            Ok(DocumentOnHand { id: *id, record: RecordId(*record), text: text.clone(), taken_back })
        };
        ids.iter().map(on_hand).collect()
    }

    async fn record_to_prove(&mut self, id: RecordId) -> Result<RecordToProve, StoreError> {
        type Row = (String, chrono::NaiveDate, Option<Uuid>, String);
        let row: Option<Row> = records::table
            .filter(records::books_id.eq(self.id.0))
            .filter(records::id.eq(id.0))
            .select((records::word, records::date, records::party_id, records::text))
            .first(self.connection)
            .await
            .optional()?;
        let unknown = || StoreError::UnknownId { what: "records".to_owned(), id: id.0 };
        let (word, date, party, text) = row.ok_or_else(unknown)?;
        let taken_back = self.taken_back_among(&[id.0]).await?.get(&id.0).map(|(by, _)| *by);
        Ok(RecordToProve {
            id,
            word: read_as("records.word", &word, Word::named)?,
            date,
            party: party.map(PartyId),
            text,
            taken_back,
        })
    }

    /// The file of a document, checked against its sum.
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Corrupt`] where it is not what it was.
    pub async fn document_file(&mut self, id: DocumentId) -> Result<FileKept, StoreError> {
        type Row = (String, Option<String>, Vec<u8>, Vec<u8>);
        let file = document_files::books_id
            .eq(documents::books_id)
            .and(document_files::sha256.eq(documents::sha256));
        let row: Option<Row> = documents::table
            .inner_join(document_files::table.on(file))
            .filter(documents::books_id.eq(self.id.0))
            .filter(documents::id.eq(id.0))
            .select((documents::kind, documents::name, documents::sha256, document_files::bytes))
            .first(self.connection)
            .await
            .optional()?;
        let (kind, name, sum, bytes) = row.ok_or_else(|| Self::missing("document", id))?;
        let found = FileBytes(bytes.into());
        if found.sum().0.as_slice() != sum {
            return Err(StoreError::Corrupt { id: id.0 });
        }
        Ok(FileKept {
            kind: read_as("documents.kind", &kind, DocumentKind::named)?,
            name,
            sum: found.sum(),
            bytes: found.0.to_vec(),
        })
    }
}
