//! Tokens over HTTP: shown once, listed without their secret, revoked for good.

use actix_web::{HttpResponse, get, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use super::answer::{Answer, replayed};
use super::checked::{Checked, Understood};
use super::door::{Administers, Door};
use super::problem::{Problem, ProblemKind};
use crate::rules::ids::{BooksId, TokenId};
use crate::rules::tokens::{Scope, ShownToken, TokenHash, end_of, end_of_replaced, write_token};
use crate::store::error::Fault;
use crate::store::idempotency::Kept;
use crate::store::tokens::{Administered, Ends, TokenListed, TokenToKeep};

/// A token to make.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewToken {
    /// What it is for, so that it can be told from the others.
    #[schema(min_length = 1, max_length = 100, example = "phone")]
    pub name: String,
    pub scope: Scope,
    /// A year from now where it is left out, and never later.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expires_at: Option<DateTime<Utc>>,
}

/// A token in place of another.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewReplacement {
    /// The new one's end; a year from now where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expires_at: Option<DateTime<Utc>>,
    /// How long the old one goes on beside the new one; a day where it is left out, 0 ends it at once.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(maximum = 720)]
    pub keep_old_for_hours: Option<u32>,
}

/// A token that was made.
#[derive(Debug, Serialize, ToSchema)]
pub struct TokenMadeBody {
    pub id: TokenId,
    /// Shown this once; keep it.
    pub token: String,
    /// When it ends.
    pub expires_at: DateTime<Utc>,
    /// When the token that it replaces ends.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub old_expires_at: Option<DateTime<Utc>>,
}

/// A token without its secret.
#[derive(Debug, Serialize, ToSchema)]
pub struct TokenBody {
    pub id: TokenId,
    /// What it is called, to tell it from others.
    pub name: String,
    pub scope: Scope,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When it ends.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expires_at: Option<DateTime<Utc>>,
    /// When it was revoked; left out while it was not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub revoked_at: Option<DateTime<Utc>>,
    /// When it opened the books last, to the minute.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_used_at: Option<DateTime<Utc>>,
    /// The token that this one was made in place of.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub replaces: Option<TokenId>,
}

/// All tokens of the books.
#[derive(Debug, Serialize, ToSchema)]
pub struct TokensBody {
    pub items: Vec<TokenBody>,
}

/// A token of those books from the operating system's randomness, with the hash to keep.
/// # Errors
/// The operating system has no randomness to give.
pub fn new_token(books: BooksId) -> Result<(String, TokenHash), getrandom::Error> {
    let mut random = [0; 32];
    getrandom::fill(&mut random)?;
    let token = write_token(books, &random);
    ShownToken::read(&token).map(|shown| (token, shown.hash)).ok_or(getrandom::Error::UNEXPECTED)
}

/// A new token's text and hash, or the fault that stands for it.
/// # Errors
/// 500: the operating system has no randomness to give.
pub fn fresh_token(books: BooksId) -> Result<(String, TokenHash), Problem> {
    new_token(books).map_err(|error| {
        tracing::error!(%error, "no randomness");
        Problem::new(ProblemKind::Internal)
    })
}

/// Makes a token; it is shown this once. It ends in a year unless an earlier end is asked for.
#[utoipa::path(tag = "tokens", request_body = NewToken, responses(
    (status = 201, description = "The token", body = TokenMadeBody)
))]
#[post("/v1/tokens")]
pub async fn make_token(door: Door<Administers>, body: Checked<NewToken>) -> Answer {
    let Understood { sent, value: new } = body.understood()?;
    let (act, key) = door.administering(&sent)?;
    let said = |fault: Fault| Problem::of_fault(&fault, Some(&sent));
    let expires_at = end_of(new.expires_at, Utc::now()).map_err(|refusal| said(refusal.into()))?;
    let (token, hash) = fresh_token(door.holder.books.id())?;
    let kept = TokenToKeep { name: new.name.clone(), scope: new.scope, expires_at, hash };
    let made = door.holder.books.add_token(&act, key.as_ref(), &kept).await;
    let id = made.map_err(said)?;
    Ok(HttpResponse::Created().json(TokenMadeBody { id, token, expires_at, old_expires_at: None }))
}

/// Makes a token in place of one, with its name and scope; the old one goes on for a while, so that nothing stands
/// still while the new one is carried to where it is used.
#[utoipa::path(tag = "tokens", request_body = NewReplacement, responses(
    (status = 201, description = "The new token", body = TokenMadeBody)
))]
#[post("/v1/tokens/{id}/replacement")]
pub async fn replace_token(
    door: Door<Administers>,
    id: web::Path<TokenId>,
    body: Checked<NewReplacement>,
) -> Answer {
    let Understood { sent, value: new } = body.understood()?;
    let (act, key) = door.administering(&sent)?;
    let said = |fault: Fault| Problem::of_fault(&fault, Some(&sent));
    let now = Utc::now();
    let expires_at = end_of(new.expires_at, now).map_err(|refusal| said(refusal.into()))?;
    let (token, hash) = fresh_token(door.holder.books.id())?;
    let ends = |old| Ok(Ends { new: expires_at, old: end_of_replaced(new.keep_old_for_hours, old, now)? });
    let made = door.holder.books.replace_token(&act, key.as_ref(), id.into_inner(), &hash, ends).await;
    let made = made.map_err(said)?;
    let old_expires_at = Some(made.old_expires_at);
    Ok(HttpResponse::Created().json(TokenMadeBody { id: made.id, token, expires_at, old_expires_at }))
}

/// Lists the tokens of the books, without their secrets.
#[utoipa::path(tag = "tokens", responses((status = 200, description = "The tokens", body = TokensBody)))]
#[get("/v1/tokens")]
pub async fn list_tokens(door: Door<Administers>) -> Answer {
    let listed = door.look(async |tx| Ok(tx.tokens().await?)).await?;
    let body = |one: TokenListed| TokenBody {
        id: one.id,
        name: one.name,
        scope: one.scope,
        created_at: one.created_at,
        expires_at: one.expires_at,
        revoked_at: one.revoked_at,
        last_used_at: one.last_used_at,
        replaces: one.replaces,
    };
    Ok(HttpResponse::Ok().json(TokensBody { items: listed.into_iter().map(body).collect() }))
}

/// Revokes a token: from the next request on it opens nothing.
#[utoipa::path(tag = "tokens", responses((status = 204, description = "Revoked")))]
#[post("/v1/tokens/{id}/revocation")]
pub async fn revoke_token(door: Door<Administers>, id: web::Path<TokenId>) -> Answer {
    let (act, key) = door.administering(&Value::Null)?;
    let revoked = door.holder.books.revoke_token(&act, key.as_ref(), id.into_inner()).await;
    match revoked.map_err(|fault| Problem::of_fault(&fault, None))? {
        Administered::Done(()) => Ok(HttpResponse::NoContent().finish()),
        Administered::Before => Ok(replayed(Kept { status: 204, body: Vec::new() })),
    }
}
