//! The door: whose token it is, how far it reaches, and the one way to a read or a write.

use std::future::Future;
use std::marker::PhantomData;
use std::pin::Pin;

use actix_web::http::header::{AUTHORIZATION, HeaderMap};
use actix_web::{FromRequest, HttpRequest, HttpResponse, dev, rt, web};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest, Sha256};
use utoipa::IntoParams;
use uuid::Uuid;

use super::answer::{self, Answer};
use super::checked::{Checked, Understood, in_our_years};
use super::problem::{Problem, ProblemKind, ids_in};
use crate::rules::recording::Recording;
use crate::rules::tokens::{Scope, TokenHash};
use crate::store::books::Tx;
use crate::store::connect::Database;
use crate::store::error::{Fault, StoreError};
use crate::store::recording::{Desk, IdempotencyKey, Mode, Outcome, Request};
use crate::store::tokens::TokenHolder;

/// What a handler declares that its caller must be allowed to do.
pub trait Reach {
    const SCOPE: Scope;
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

/// A caller whose token is good for `R`; without one there is no way to the store.
pub struct Door<R> {
    pub holder: TokenHolder,
    pub database: Database,
    request_id: Uuid,
    action: String,
    mode: Mode,
    key: Option<String>,
    reach: PhantomData<R>,
}

/// What every write takes in its query.
#[derive(Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct WriteQuery {
    /// `true` shows what would be written, and writes nothing.
    #[serde(default)]
    pub dry_run: bool,
}

impl<R: Reach + 'static> FromRequest for Door<R> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, _: &mut dev::Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            let database = request
                .app_data::<web::Data<Database>>()
                .map(|database| Database::clone(database))
                .ok_or_else(|| Problem::new(ProblemKind::Internal))?;
            let hash = shown_token(request.headers())?;
            let holder = database
                .holder_of(&hash)
                .await
                .map_err(|error| Problem::of_store(&error, None))?
                .ok_or_else(|| {
                    Problem::new(ProblemKind::NotSignedIn).with("the token is unknown, expired or revoked")
                })?;
            if holder.scope < R::SCOPE {
                return Err(Problem::new(ProblemKind::NotAllowed).with(format!(
                    "the token's scope is {}; this asks for {}",
                    holder.scope,
                    R::SCOPE
                )));
            }
            days_asked_for(request.query_string())?;
            let writes = request.method() == actix_web::http::Method::POST;
            let mode = if writes { mode_of(request.query_string())? } else { Mode::Record };
            Ok(Self {
                holder,
                database,
                request_id: Uuid::now_v7(),
                action: format!("{} {}", request.method(), request.path()),
                mode,
                key: key_of(request.headers())?,
                reach: PhantomData,
            })
        })
    }
}

/// Days in a query are of the years that books are kept for, whatever they are asked as; a period ends after it begins.
fn days_asked_for(query: &str) -> Result<(), Problem> {
    let Ok(asked) = web::Query::<Vec<(String, String)>>::from_query(query) else { return Ok(()) };
    for (name, text) in asked.iter() {
        if text.parse::<NaiveDate>().is_ok_and(|date| !in_our_years(date)) {
            return Err(Problem::new(ProblemKind::MalformedRequest)
                .with(format!("{name}={text} is no day of the years 1900 to 2199")));
        }
    }
    let day = |wanted: &str| {
        let found = asked.iter().find(|(name, _)| name == wanted);
        found.and_then(|(_, text)| text.parse::<NaiveDate>().ok())
    };
    match (day("from"), day("to")) {
        (Some(from), Some(to)) if to < from => Err(Problem::new(ProblemKind::MalformedRequest)
            .with(format!("from={from} lies after to={to}; ask for the earlier day first"))),
        _ => Ok(()),
    }
}

fn mode_of(query: &str) -> Result<Mode, Problem> {
    let asked = web::Query::<WriteQuery>::from_query(query).map_err(|error| {
        Problem::new(ProblemKind::MalformedRequest)
            .with(format!("the query can not be read: {error}; it takes dry_run=true or nothing"))
    })?;
    Ok(if asked.dry_run { Mode::DryRun } else { Mode::Record })
}

fn shown_token(headers: &HeaderMap) -> Result<TokenHash, Problem> {
    let missing = || Problem::new(ProblemKind::NotSignedIn);
    let shown = headers.get(AUTHORIZATION).ok_or_else(missing)?;
    let shown = shown.to_str().ok().and_then(|text| text.split_once(' ')).ok_or_else(missing)?;
    match shown {
        (scheme, token) if scheme.eq_ignore_ascii_case("bearer") => TokenHash::of_shown(token.trim())
            .ok_or_else(|| {
                Problem::new(ProblemKind::NotSignedIn)
                    .with("that is not a token of this service; check its end")
            }),
        _ => Err(missing()),
    }
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
        let facts = serde_json::to_value(&value).map_err(|error| {
            tracing::error!(%error, "a body could not be put into words again");
            Problem::new(ProblemKind::Internal)
        })?;
        let request = Request {
            token: self.holder.token,
            request_id: self.request_id,
            key: self.key.as_ref().map(|key| IdempotencyKey {
                key: key.clone(),
                payload_hash: payload_hash(&self.action, self.mode, &sent),
            }),
            action: self.action,
            mode: self.mode,
            facts,
        };
        let books = self.holder.books.clone();
        let written = rt::spawn(async move {
            books.record(&request, async |desk| decide(desk, &value).await, answer::render).await
        });
        match written.await {
            Ok(Ok(Outcome::Fresh { mode, body })) => Ok(answer::fresh(mode, body)),
            Ok(Ok(Outcome::Replayed { status, body })) => Ok(answer::replayed(status, body)),
            Ok(Err(Fault::Store(StoreError::UnknownReference { what }))) => {
                let ids: Vec<Uuid> = ids_in(&sent).into_iter().map(|(_, id)| id).collect();
                let look = self.holder.books.read(async |tx| Ok(tx.unknown_among(&ids, &what).await?));
                let unknown = look.await.map_err(|fault| Problem::of_fault(&fault, None))?;
                Err(Problem::unknown_ids(&what, Some(&sent), &unknown))
            }
            Ok(Err(fault)) => Err(Problem::of_fault(&fault, Some(&sent))),
            Err(error) => {
                tracing::error!(%error, "a write did not come to its end");
                Err(Problem::new(ProblemKind::Internal))
            }
        }
    }
}

/// Two requests are the same if method, path, mode and body are; the body's own spelling counts.
fn payload_hash(action: &str, mode: Mode, sent: &Value) -> [u8; 32] {
    let mut hash = Sha256::new();
    hash.update(action.as_bytes());
    hash.update([0, u8::from(mode == Mode::DryRun)]);
    hash.update(sent.to_string().as_bytes());
    hash.finalize().into()
}
