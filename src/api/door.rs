//! The door: whose token it is, how far it reaches, and the one way to a read or a write.

use std::future::Future;
use std::marker::PhantomData;
use std::pin::Pin;
use std::sync::Arc;

use actix_web::http::Method;
use actix_web::http::header::{AUTHORIZATION, HeaderMap};
use actix_web::{FromRequest, HttpMessage, HttpRequest, HttpResponse, dev, rt, web};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::answer::{self, Answer};
use super::batch::{self, Batch};
use super::checked::{Checked, OUR_YEARS, Understood, in_our_years};
use super::limits::{Gate, Place, place_held_by};
use super::lists::cursor_checked;
use super::metrics::Figures;
use super::openapi::bounds::is_bidi_control;
use super::problem::{Problem, ProblemKind, ids_in};
use super::revisions::Known;
use super::serve::request_id_of;
use crate::rules::ids::RecordId;
use crate::rules::recording::Recording;
use crate::rules::tokens::{Scope, ShownToken};
use crate::store::audit::{Act, Hand};
use crate::store::books::Tx;
use crate::store::connect::Database;
use crate::store::error::{Fault, StoreError};
use crate::store::idempotency::IdempotencyKey;
use crate::store::recording::{Desk, Mode, Outcome, Request};
use crate::store::tokens::TokenHolder;

/// What a handler declares that its caller must be allowed to do.
pub trait Reach {
    const SCOPE: Scope;
    /// What its writes take in their query beside `dry_run`.
    const ALSO: &'static [&'static str] = &[];
}

macro_rules! reaches {
    ($($(#[$note:meta])* $name:ident => $scope:ident),+) => {$(
        $(#[$note])*
        #[derive(Debug)]
        pub struct $name;
        impl Reach for $name {
            const SCOPE: Scope = Scope::$scope;
        }
    )+};
}

reaches! {
    /// Looks at the books.
    Reads => Read,
    /// Records what happened.
    Records => Record,
    /// Closes and reopens periods.
    Closes => Close,
    /// Makes tokens and books.
    Administers => Admin
}

/// Records a file, which fills the body: what is said about it is in the query.
#[derive(Debug)]
pub struct Uploads;

impl Reach for Uploads {
    const SCOPE: Scope = Scope::Record;
    const ALSO: &'static [&'static str] = &["name", "record"];
}

/// A caller whose token is good for `R`; without one there is no way to the store.
pub struct Door<R> {
    pub holder: TokenHolder,
    request_id: Uuid,
    action: String,
    asked: WriteQuery,
    key: Option<String>,
    pub(super) known: Known,
    figures: web::Data<Figures>,
    place: Option<Arc<Place>>,
    reach: PhantomData<R>,
}

/// What every write takes in its query.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WriteQuery {
    /// `true` shows what would be written, and writes nothing.
    #[serde(default)]
    pub dry_run: bool,
    /// The record that what is recorded stands in for; it was taken back before.
    #[serde(default)]
    pub replaces: Option<RecordId>,
}

impl WriteQuery {
    const fn mode(&self) -> Mode {
        if self.dry_run { Mode::DryRun } else { Mode::Record }
    }
}

impl<R: Reach + 'static> FromRequest for Door<R> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, _: &mut dev::Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            let holder = let_in(&request).await?;
            if holder.scope < R::SCOPE {
                return Err(Problem::new(ProblemKind::NotAllowed).with(format!(
                    "the token's scope is {}; this asks for {}",
                    holder.scope,
                    R::SCOPE
                )));
            }
            sensibly_asked(request.query_string())?;
            cursor_checked(&request, &holder.cursor_key)?;
            let writes = matches!(*request.method(), Method::POST | Method::PATCH);
            let figures = request.app_data::<web::Data<Figures>>();
            let asked =
                if writes { write_asked(request.query_string(), R::ALSO)? } else { WriteQuery::default() };
            Ok(Self {
                holder,
                request_id: request_id_of(&request),
                action: format!("{} {}", request.method(), request.path()),
                asked,
                key: key_of(request.headers())?,
                known: Known::by(&request),
                figures: figures.cloned().ok_or_else(|| Problem::new(ProblemKind::Internal))?,
                place: place_held_by(&request),
                reach: PhantomData,
            })
        })
    }
}

/// Finds out whose token the request shows. Before its body is read, and once for each request: whoever has no good token
/// costs neither memory nor time.
/// # Errors
/// The problem to answer with.
pub async fn let_in(request: &HttpRequest) -> Result<TokenHolder, Problem> {
    let known = request.extensions().get::<TokenHolder>().cloned();
    if let Some(holder) = known {
        return Ok(holder);
    }
    let holder = holder_of(request).await?;
    request.extensions_mut().insert(holder.clone());
    Ok(holder)
}

/// Who shows a good token, and has not made too many requests with it.
async fn holder_of(request: &HttpRequest) -> Result<TokenHolder, Problem> {
    let given = request.app_data::<web::Data<Database>>().zip(request.app_data::<web::Data<Gate>>());
    let (database, gate) = given.ok_or_else(|| Problem::new(ProblemKind::Internal))?;
    if request.headers().get_all(AUTHORIZATION).nth(1).is_some() {
        return Err(Problem::new(ProblemKind::MalformedRequest)
            .with("the request has several Authorization headers; send one, with one token"));
    }
    let shown = bearer(request.headers()).ok_or_else(|| Problem::new(ProblemKind::NotSignedIn))?;
    let wrong = |detail: &str| gate.wrong_token(request, Problem::new(ProblemKind::NotSignedIn).with(detail));
    let shown =
        ShownToken::read(shown).ok_or_else(|| wrong("that is not a token of this service; check its end"))?;
    let found = database.holder_of(&shown).await.map_err(|error| Problem::of_store(&error, None))?;
    let holder = found.ok_or_else(|| wrong("the token is unknown, expired or revoked"))?;
    gate.let_through(request, holder.token)?;
    Ok(holder)
}

/// Characters of a text in a query, whatever it is; several tax classes with commas between them are the longest.
const QUERY_TEXT: usize = 600;

/// What is in a query can be printed; its days and years are of those that books are kept for, whatever they are asked
/// as; a period ends after it begins.
fn sensibly_asked(query: &str) -> Result<(), Problem> {
    let Ok(asked) = web::Query::<Vec<(String, String)>>::from_query(query) else { return Ok(()) };
    let wrong = |detail: String| Err(Problem::new(ProblemKind::MalformedRequest).with(detail));
    for (name, text) in asked.iter() {
        let unprintable =
            |sign: char| (sign.is_control() && !matches!(sign, '\t' | '\n' | '\r')) || is_bidi_control(sign);
        if text.chars().any(unprintable) {
            return wrong(format!("{name} has characters that can not be seen or printed; leave them out"));
        }
        if text.chars().count() > QUERY_TEXT {
            return wrong(format!("{name} has more than {QUERY_TEXT} characters; ask for something shorter"));
        }
        if text.parse::<NaiveDate>().is_ok_and(|date| !in_our_years(date)) {
            return wrong(format!("{name}={text} is no day of the years 1900 to 2199"));
        }
        if name == "tax_year" && text.parse::<i32>().is_ok_and(|year| !OUR_YEARS.contains(&year)) {
            return wrong(format!("{name}={text} is none of the years 1900 to 2199"));
        }
    }
    let day = |wanted: &str| {
        let found = asked.iter().find(|(name, _)| name == wanted);
        found.and_then(|(_, text)| text.parse::<NaiveDate>().ok())
    };
    match (day("from"), day("to")) {
        (Some(from), Some(to)) if to < from => {
            wrong(format!("from={from} lies after to={to}; ask for the earlier day first"))
        }
        _ => Ok(()),
    }
}

fn write_asked(query: &str, also: &[&str]) -> Result<WriteQuery, Problem> {
    let ours = |part: &&str| !also.contains(&part.split('=').next().unwrap_or_default());
    let query = query.split('&').filter(ours).collect::<Vec<_>>().join("&");
    let asked = web::Query::<WriteQuery>::from_query(&query).map_err(|error| {
        let mut takes = vec!["dry_run=true", "replaces=<the id of a record>"];
        takes.extend(also);
        let takes = takes.join(", ");
        Problem::of_query(&error, &format!("it takes {takes} or nothing"))
    })?;
    Ok(asked.into_inner())
}

/// What is shown as a token, if anything is.
fn bearer(headers: &HeaderMap) -> Option<&str> {
    let (scheme, token) = headers.get(AUTHORIZATION)?.to_str().ok()?.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| token.trim())
}

/// Takes the key with the quotes of a structured field or without; 1 to 255 visible ASCII signs.
fn key_of(headers: &HeaderMap) -> Result<Option<String>, Problem> {
    let mut given = headers.get_all("Idempotency-Key");
    let Some(first) = given.next() else { return Ok(None) };
    let wrong = || {
        Problem::new(ProblemKind::MalformedRequest)
            .with("Idempotency-Key takes one key of 1 to 255 visible ASCII signs, such as a UUID")
    };
    let text = first.to_str().ok().ok_or_else(wrong)?.trim();
    let key = text.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')).unwrap_or(text);
    let plain = (1..=255).contains(&key.len()) && key.bytes().all(|byte| (b'!'..=b'~').contains(&byte));
    if !plain || given.next().is_some() { Err(wrong()) } else { Ok(Some(key.to_owned())) }
}

impl<R: Reach> Door<R> {
    /// Who changes tokens or books, by which request, and under which key.
    /// # Errors
    /// 400 where it was asked to be shown only: there is nothing to show but the secret itself.
    pub fn administering(&self, sent: &Value) -> Result<(Act, Option<IdempotencyKey>), Problem> {
        if self.asked.dry_run {
            return Err(Problem::new(ProblemKind::MalformedRequest)
                .with("this address takes no dry_run; leave it out, and what is asked for is done"));
        }
        self.replaces_nothing()?;
        Ok((self.act(), self.key_for(sent)))
    }

    /// Who asks, by which request, for what.
    fn act(&self) -> Act {
        Act { by: Hand::Token(self.holder.token), request_id: self.request_id, action: self.action.clone() }
    }

    /// The key it came with, for that body.
    fn key_for(&self, sent: &Value) -> Option<IdempotencyKey> {
        self.key.as_ref().map(|key| IdempotencyKey {
            key: key.clone(),
            payload_hash: payload_hash(&self.action, &self.asked, sent),
        })
    }

    /// Looks at the books and answers with JSON.
    /// # Errors
    /// The problem to answer with.
    pub async fn read<T: Serialize>(self, look: impl AsyncFnOnce(&mut Tx<'_>) -> Result<T, Fault>) -> Answer {
        let found = self.look(look).await?;
        Ok(HttpResponse::Ok().json(found))
    }

    /// Looks at the books; the handler makes the answer.
    /// # Errors
    /// The problem to answer with.
    pub async fn look<T>(
        &self,
        look: impl AsyncFnOnce(&mut Tx<'_>) -> Result<T, Fault>,
    ) -> Result<T, Problem> {
        self.holder.books.read(look).await.map_err(|fault| Problem::of_fault(&fault, None))
    }

    /// Asks the rules, writes what they say, and answers 201 (200 for a dry run). The write outlives the
    /// request: a caller who hangs up leaves the whole record or none.
    /// # Errors
    /// The problem to answer with.
    pub async fn record<T: Serialize + 'static>(
        self,
        body: Checked<T>,
        decide: impl AsyncFn(&mut Desk<'_, '_>, &T) -> Result<Recording, Fault> + 'static,
    ) -> Answer {
        let Understood { sent, value } = body.understood()?;
        let facts = in_words(&value)?;
        let request = Request { replaces: self.asked.replaces, ..self.plain_request(&sent) };
        let books = self.holder.books.clone();
        let write = async move {
            let decided = async |desk: &mut Desk<'_, '_>| decide(desk, &value).await;
            books.record(&request, &facts, decided, answer::render).await
        };
        self.answer_to(self.to_its_end(1, write).await, &sent).await
    }

    /// The same for many at once: all of them or none, each seeing the ones before it.
    /// # Errors
    /// The problem to answer with; each finding under `/items/` and its place.
    pub async fn record_all<T: Serialize + 'static>(
        self,
        body: Checked<Batch<T>>,
        decide: impl AsyncFn(&mut Desk<'_, '_>, &T) -> Result<Recording, Fault> + 'static,
    ) -> Answer {
        let Understood { sent, value: Batch { items } } = body.understood()?;
        let asked = items.into_iter().map(|value| in_words(&value).map(|facts| (value, facts)));
        let asked: Vec<_> = asked.collect::<Result<_, _>>()?;
        let (request, books) = (self.request_for(&sent)?, self.holder.books.clone());
        let records = asked.len();
        let write = async move { books.record_all(&request, &asked, decide, batch::render).await };
        self.answer_to(self.to_its_end(records, write).await, &sent).await
    }

    /// Runs a write to its end, whoever hangs up meanwhile. Until then it keeps the request's place among the answers
    /// under way: callers who hang up must not pile up more writes than the service takes on at once.
    pub(super) async fn to_its_end(
        &self,
        records: usize,
        write: impl Future<Output = Result<Outcome, Fault>> + 'static,
    ) -> Result<Result<Outcome, Fault>, rt::task::JoinError> {
        let (figures, place) = (self.figures.clone(), self.place.clone());
        let written = rt::spawn(async move {
            let outcome = write.await;
            figures.wrote(&outcome, records);
            drop(place);
            outcome
        });
        written.await
    }

    /// A request that makes no single record: nothing of it can stand in for another.
    pub(super) fn request_for(&self, sent: &Value) -> Result<Request, Problem> {
        self.replaces_nothing()?;
        Ok(self.plain_request(sent))
    }

    fn plain_request(&self, sent: &Value) -> Request {
        Request { act: self.act(), mode: self.asked.mode(), key: self.key_for(sent), replaces: None }
    }

    fn replaces_nothing(&self) -> Result<(), Problem> {
        if self.asked.replaces.is_none() {
            return Ok(());
        }
        Err(Problem::new(ProblemKind::MalformedRequest)
            .with("this address takes no replaces; send it with the one record that stands in for another"))
    }

    pub(super) async fn answer_to(
        &self,
        written: Result<Result<Outcome, Fault>, rt::task::JoinError>,
        sent: &Value,
    ) -> Answer {
        match written {
            Ok(Ok(Outcome::Recorded { body })) => Ok(answer::recorded(body)),
            Ok(Ok(Outcome::Shown { body })) => Ok(answer::shown(body)),
            Ok(Ok(Outcome::Replayed(kept))) => Ok(answer::replayed(kept)),
            Ok(Err(Fault::Store(StoreError::UnknownReference { what }))) => {
                let ids: Vec<Uuid> = ids_in(sent).into_iter().map(|(_, id)| id).collect();
                let look = self.holder.books.read(async |tx| Ok(tx.unknown_among(&ids, &what).await?));
                let unknown = look.await.map_err(|fault| Problem::of_fault(&fault, None))?;
                Err(Problem::unknown_ids(&what, Some(sent), &unknown))
            }
            Ok(Err(fault)) => Err(Problem::of_fault(&fault, Some(sent))),
            Err(error) => {
                tracing::error!(%error, "a write did not come to its end");
                Err(Problem::new(ProblemKind::Internal))
            }
        }
    }
}

/// A body as it was understood, to be kept with its record.
fn in_words(value: &impl Serialize) -> Result<Value, Problem> {
    serde_json::to_value(value).map_err(|error| {
        tracing::error!(%error, "a body could not be put into words again");
        Problem::new(ProblemKind::Internal)
    })
}

/// Two requests are the same if method, path, query and body are; the body's own spelling counts.
fn payload_hash(action: &str, asked: &WriteQuery, sent: &Value) -> [u8; 32] {
    let mut hash = Sha256::new();
    hash.update(action.as_bytes());
    hash.update([0, u8::from(asked.dry_run)]);
    if let Some(wrong) = asked.replaces {
        hash.update(wrong.to_string().as_bytes());
    }
    hash.update(sent.to_string().as_bytes());
    hash.finalize().into()
}
