//! Tokens over HTTP: shown once, listed without their secret, revoked for good.

use actix_web::{HttpResponse, get, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::answer::Answer;
use super::checked::Checked;
use super::door::{Administers, Door};
use super::problem::{Problem, ProblemKind};
use crate::rules::ids::TokenId;
use crate::rules::tokens::{Scope, TokenHash, write_token};
use crate::store::tokens::TokenListed;

/// A token to make.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewToken {
    /// What it is for, so that it can be told from the others.
    #[schema(min_length = 1, max_length = 100, example = "phone")]
    pub name: String,
    pub scope: Scope,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expires_at: Option<DateTime<Utc>>,
}

/// A token that was made.
#[derive(Debug, Serialize, ToSchema)]
pub struct TokenMadeBody {
    pub id: TokenId,
    /// Shown this once; keep it.
    pub token: String,
}

/// A token without its secret.
#[derive(Debug, Serialize, ToSchema)]
pub struct TokenBody {
    pub id: TokenId,
    pub name: String,
    pub scope: Scope,
    pub created_at: DateTime<Utc>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expires_at: Option<DateTime<Utc>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub revoked_at: Option<DateTime<Utc>>,
}

/// All tokens of the books.
#[derive(Debug, Serialize, ToSchema)]
pub struct TokensBody {
    pub items: Vec<TokenBody>,
}

/// A token from the operating system's randomness, with the hash to keep.
/// # Errors
/// The operating system has no randomness to give.
pub fn new_token() -> Result<(String, TokenHash), getrandom::Error> {
    let mut random = [0; 32];
    getrandom::fill(&mut random)?;
    let token = write_token(&random);
    TokenHash::of_shown(&token).map(|hash| (token, hash)).ok_or(getrandom::Error::UNEXPECTED)
}

/// Makes a token; it is shown this once.
#[utoipa::path(tag = "tokens", request_body = NewToken, responses(
    (status = 201, description = "The token", body = TokenMadeBody)
))]
#[post("/v1/tokens")]
pub async fn make_token(door: Door<Administers>, body: Checked<NewToken>) -> Answer {
    let (token, hash) = new_token().map_err(|error| {
        tracing::error!(%error, "no randomness");
        Problem::new(ProblemKind::Internal)
    })?;
    let body = body.understood()?;
    let new = &body.value;
    let id = door.holder.books.add_token(&new.name, new.scope, new.expires_at, &hash).await;
    let id = id.map_err(|error| Problem::of_store(&error, Some(&body.sent)))?;
    Ok(HttpResponse::Created().json(TokenMadeBody { id, token }))
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
    };
    Ok(HttpResponse::Ok().json(TokensBody { items: listed.into_iter().map(body).collect() }))
}

/// Revokes a token: from the next request on it opens nothing.
#[utoipa::path(tag = "tokens", responses((status = 204, description = "Revoked")))]
#[post("/v1/tokens/{id}/revocation")]
pub async fn revoke_token(door: Door<Administers>, id: web::Path<TokenId>) -> Answer {
    let revoked = door.holder.books.revoke_token(id.into_inner()).await;
    revoked.map_err(|fault| Problem::of_fault(&fault, None))?;
    Ok(HttpResponse::NoContent().finish())
}
