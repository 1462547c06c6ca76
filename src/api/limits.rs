//! Limits: how many requests a token may make, how many wrong tokens may come from one address, how many answers are
//! worked on at once, and how slowly a body may come.

use std::net::IpAddr;
use std::num::NonZeroU32;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use actix_web::body::MessageBody;
use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::error::PayloadError;
use actix_web::http::header::{HeaderMap, HeaderName, HeaderValue};
use actix_web::middleware::Next;
use actix_web::rt::time::{Instant, timeout};
use actix_web::{HttpMessage, web};
use futures_util::{Stream, StreamExt, stream};
use governor::clock::{Clock, DefaultClock};
use governor::middleware::StateInformationMiddleware;
use governor::{Quota, RateLimiter};

use super::metrics::Figures;
use super::problem::{Problem, ProblemKind};
use crate::rules::ids::TokenId;

/// How much is let through.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// Requests of one token.
    pub per_minute: NonZeroU32,
    /// Wrong tokens from one address; good ones from there are let in all the same.
    pub wrong_tokens_per_minute: NonZeroU32,
    /// Answers that are worked on at the same time; whoever comes on top is sent away at once.
    pub at_once: usize,
    /// The longest pause that a body may make, and how long its speed is not looked at.
    pub patience: Duration,
}

/// Enough for a script that writes as fast as one connection can, and an end to one that runs wild.
const PER_MINUTE: NonZeroU32 = NonZeroU32::MIN.saturating_add(2999);
const WRONG_TOKENS_PER_MINUTE: NonZeroU32 = NonZeroU32::MIN.saturating_add(9);
const AT_ONCE: usize = 256;

impl Default for Limits {
    fn default() -> Self {
        Self {
            per_minute: PER_MINUTE,
            wrong_tokens_per_minute: WRONG_TOKENS_PER_MINUTE,
            at_once: AT_ONCE,
            patience: PATIENCE,
        }
    }
}

const PATIENCE: Duration = Duration::from_secs(10);
/// Bytes a second, over all of the body so far.
const SLOWEST: u64 = 1024;

/// Addresses that showed a wrong token, before those that have not lately are forgotten.
const MANY_ADDRESSES: usize = 10_000;

type Keyed<K> = RateLimiter<
    K,
    governor::state::keyed::DefaultKeyedStateStore<K>,
    DefaultClock,
    StateInformationMiddleware,
>;

/// What is counted, by all workers together.
pub struct Gate {
    limits: Limits,
    tokens: Keyed<TokenId>,
    strangers: Keyed<IpAddr>,
    under_way: AtomicUsize,
    clock: DefaultClock,
    figures: Arc<Figures>,
}

/// What is left of a quota; kept with the request, for the headers of its answer.
#[derive(Clone, Copy, Debug)]
struct Left {
    policy: &'static str,
    quota: u32,
    rest: u32,
}

impl Gate {
    pub fn new(limits: Limits, figures: Arc<Figures>) -> Self {
        let tokens = RateLimiter::keyed(Quota::per_minute(limits.per_minute));
        let strangers = RateLimiter::keyed(Quota::per_minute(limits.wrong_tokens_per_minute));
        Self {
            limits,
            tokens: tokens.with_middleware::<StateInformationMiddleware>(),
            strangers: strangers.with_middleware::<StateInformationMiddleware>(),
            under_way: AtomicUsize::new(0),
            clock: DefaultClock::default(),
            figures,
        }
    }

    /// Counts a request of the token.
    /// # Errors
    /// 429: it made as many as it may.
    pub fn let_through(&self, request: &actix_web::HttpRequest, token: TokenId) -> Result<(), Problem> {
        let left = |rest| Left { policy: "token", quota: self.limits.per_minute.get(), rest };
        match self.tokens.check_key(&token) {
            Ok(snapshot) => {
                request.extensions_mut().insert(left(snapshot.remaining_burst_capacity()));
                Ok(())
            }
            Err(early) => {
                request.extensions_mut().insert(left(0));
                self.figures.throttled_a_token();
                let detail = format!("this token may make {} requests a minute", self.limits.per_minute);
                let wait = early.wait_time_from(self.clock.now());
                Err(Problem::new(ProblemKind::TooMany).with(detail).retry_after(wait))
            }
        }
    }

    /// Counts a wrong token, and answers with `problem` or, after too many, with 429.
    pub fn wrong_token(&self, request: &actix_web::HttpRequest, problem: Problem) -> Problem {
        let Some(address) = request.peer_addr().map(|peer| peer.ip()) else { return problem };
        if self.strangers.len() > MANY_ADDRESSES {
            self.strangers.retain_recent();
        }
        let quota = self.limits.wrong_tokens_per_minute.get();
        let left = |rest| Left { policy: "wrong-tokens", quota, rest };
        match self.strangers.check_key(&address) {
            Ok(snapshot) => {
                request.extensions_mut().insert(left(snapshot.remaining_burst_capacity()));
                problem
            }
            Err(early) => {
                request.extensions_mut().insert(left(0));
                self.figures.throttled_wrong_tokens();
                Problem::new(ProblemKind::TooMany)
                    .with("too many wrong tokens came from this address")
                    .retry_after(early.wait_time_from(self.clock.now()))
            }
        }
    }
}

impl Left {
    /// The rest of the quota, as the working group's draft of the RateLimit header fields writes it.
    fn show(self, headers: &mut HeaderMap) {
        let Self { policy, quota, rest } = self;
        let used = u64::from(quota.saturating_sub(rest));
        let full_in = (used * 60).div_ceil(u64::from(quota));
        for (name, value) in [
            ("ratelimit-policy", format!("\"{policy}\";q={quota};w=60")),
            ("ratelimit", format!("\"{policy}\";r={rest};t={full_in}")),
        ] {
            if let Ok(value) = HeaderValue::from_str(&value) {
                headers.insert(HeaderName::from_static(name), value);
            }
        }
    }
}

/// A place among the answers that are worked on, given back when the last who holds it is done: the request, and a
/// write that outlives its caller.
pub struct Place(web::Data<Gate>);

impl Drop for Place {
    fn drop(&mut self) {
        self.0.under_way.fetch_sub(1, Ordering::AcqRel);
    }
}

/// The place of a request that was let through.
pub fn place_held_by(request: &actix_web::HttpRequest) -> Option<Arc<Place>> {
    request.extensions().get::<Arc<Place>>().cloned()
}

/// Sends away at once what is too much, and watches how the body of the rest comes in.
pub async fn stand_at_the_gate(
    gate: web::Data<Gate>,
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    let before = gate.under_way.fetch_add(1, Ordering::AcqRel);
    let place = Arc::new(Place(gate.clone()));
    // Whether the service lives has to be seen when it is busiest.
    if before >= gate.limits.at_once && !request.path().starts_with("/health/") {
        gate.figures.shed_one();
        let answer = Problem::new(ProblemKind::Unavailable)
            .with("the service has more to do than it can; nothing was done")
            .response();
        return Ok(request.into_response(answer).map_into_left_body());
    }
    request.extensions_mut().insert(place);
    let payload = request.take_payload();
    request.set_payload(Payload::Stream { payload: Box::pin(watched(payload, gate.limits.patience)) });
    let mut answer = next.call(request).await?;
    let left = answer.request().extensions().get::<Left>().copied();
    if let Some(left) = left {
        left.show(answer.headers_mut());
    }
    Ok(answer.map_into_right_body())
}

/// Why a body was given up.
#[derive(Debug, thiserror::Error)]
#[error("the body came too slowly")]
pub struct TooSlow;

/// The body, given up where it pauses too long or comes too slowly; the framework itself would wait for ever.
fn watched(payload: Payload, patience: Duration) -> impl Stream<Item = Result<web::Bytes, PayloadError>> {
    let slow = || PayloadError::Io(std::io::Error::new(std::io::ErrorKind::TimedOut, TooSlow));
    let begun = Instant::now();
    stream::unfold(Some((payload, 0_u64)), move |going| async move {
        let (mut payload, so_far) = going?;
        match timeout(patience, payload.next()).await {
            Err(_) => Some((Err(slow()), None)),
            Ok(None) => None,
            Ok(Some(Err(error))) => Some((Err(error), None)),
            Ok(Some(Ok(bytes))) => {
                let so_far = so_far.saturating_add(u64::try_from(bytes.len()).unwrap_or(u64::MAX));
                let waited = begun.elapsed();
                if waited > patience && so_far < SLOWEST.saturating_mul(waited.as_secs()) {
                    return Some((Err(slow()), None));
                }
                Some((Ok(bytes), Some((payload, so_far))))
            }
        }
    })
}
