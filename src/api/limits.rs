//! Limits: how many requests a token may make, how many wrong tokens may come from one address, how many answers are
//! worked on at once, and how slowly a body may come.

use std::cell::RefCell;
use std::future::poll_fn;
use std::net::IpAddr;
use std::num::NonZeroU32;
use std::pin::Pin;
use std::rc::Rc;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use actix_web::body::{BodySize, BoxBody, MessageBody};
use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::error::PayloadError;
use actix_web::http::header::{HeaderMap, HeaderName, HeaderValue};
use actix_web::middleware::Next;
use actix_web::rt::time::{Instant, timeout};
use actix_web::{HttpMessage, HttpRequest, web};
use futures_util::{Stream, StreamExt, stream};
use governor::clock::{Clock, DefaultClock};
use governor::middleware::StateInformationMiddleware;
use governor::{Quota, RateLimiter};

use super::clients::TrustedProxies;
use super::metrics::Figures;
pub use super::places::Place;
use super::places::{Full, Places};
use super::problem::{Problem, ProblemKind};
use crate::rules::ids::TokenId;

/// How much is let through.
#[derive(Clone, Debug)]
pub struct Limits {
    /// Requests of one token.
    pub per_minute: NonZeroU32,
    /// Wrong tokens from one address; good ones from there are let in all the same.
    pub wrong_tokens_per_minute: NonZeroU32,
    /// Answers that are worked on at the same time; whoever comes on top is sent away at once. One address may have half
    /// of them under way, one token a quarter.
    pub at_once: usize,
    /// The longest pause that a body may make, and how long its speed is not looked at.
    pub patience: Duration,
    /// Proxies in front, which say whose requests they pass on.
    pub trusted_proxies: TrustedProxies,
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
            trusted_proxies: TrustedProxies::default(),
        }
    }
}

const PATIENCE: Duration = Duration::from_secs(10);
/// When a caller with too many requests under way may send another.
const SHORTLY: Duration = Duration::from_secs(1);
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
    places: Places,
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
            places: Places::of(limits.at_once),
            limits,
            tokens: tokens.with_middleware::<StateInformationMiddleware>(),
            strangers: strangers.with_middleware::<StateInformationMiddleware>(),
            clock: DefaultClock::default(),
            figures,
        }
    }

    /// Counts a request of the token, in its minute and among those that are under way.
    /// # Errors
    /// 429: it made as many as it may.
    pub fn let_through(&self, request: &HttpRequest, token: TokenId) -> Result<(), Problem> {
        let left = |rest| Left { policy: "token", quota: self.limits.per_minute.get(), rest };
        if let Some(place) = place_held_by(request)
            && let Err(most) = self.places.belongs_to(&place, token)
        {
            self.figures.shed_one();
            return Err(Problem::new(ProblemKind::TooMany)
                .with(format!(
                    "this token has {most} requests under way, as many as it may; send this one when one of them is done"
                ))
                .retry_after(SHORTLY));
        }
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
    pub fn wrong_token(&self, request: &HttpRequest, problem: Problem) -> Problem {
        let Some(address) = self.client_of(request) else { return problem };
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

impl Gate {
    /// Whom limits by address count.
    fn client_of(&self, request: &HttpRequest) -> Option<IpAddr> {
        self.limits.trusted_proxies.client_of(request.peer_addr(), request.headers())
    }

    fn place_for(&self, request: &HttpRequest) -> Result<Place, Problem> {
        self.places.take(self.client_of(request)).map_err(|full| {
            self.figures.shed_one();
            match full {
                Full::House => Problem::new(ProblemKind::Unavailable)
                    .with("the service has more to do than it can; nothing was done"),
                Full::Address => Problem::new(ProblemKind::TooMany)
                    .with(
                        "too many requests from this address are under way; send this one when some are done",
                    )
                    .retry_after(SHORTLY),
            }
        })
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

/// The place of a request that was let through.
pub fn place_held_by(request: &HttpRequest) -> Option<Arc<Place>> {
    request.extensions().get::<Arc<Place>>().cloned()
}

/// Sends away at once what is too much, and watches how the body of the rest comes in.
pub async fn stand_at_the_gate(
    gate: web::Data<Gate>,
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    // The framework reads a body that was sent in chunks and that nobody wants to its end, however long that takes, if it
    // is dropped before the answer is written; if not, it closes the connection. So the body is kept until then.
    let unread = Rc::new(RefCell::new(request.take_payload()));
    // Whether the service lives has to be seen when it is busiest.
    if !request.path().starts_with("/health/") {
        match gate.place_for(request.request()) {
            Ok(place) => request.extensions_mut().insert(Arc::new(place)),
            Err(problem) => {
                let answer = request.into_response(problem.response());
                return Ok(answer.map_body(|_, body| Keeping { body, _unread: unread }));
            }
        };
    }
    let body = watched(Rc::clone(&unread), gate.limits.patience);
    request.set_payload(Payload::Stream { payload: Box::pin(body) });
    let mut answer = next.call(request).await?;
    let left = answer.request().extensions().get::<Left>().copied();
    if let Some(left) = left {
        left.show(answer.headers_mut());
    }
    Ok(answer.map_into_boxed_body().map_body(|_, body| Keeping { body, _unread: unread }))
}

/// The body of an answer that keeps the body of its request until it is written.
struct Keeping {
    body: BoxBody,
    _unread: Rc<RefCell<Payload>>,
}

impl MessageBody for Keeping {
    type Error = <BoxBody as MessageBody>::Error;

    fn size(&self) -> BodySize {
        self.body.size()
    }

    fn poll_next(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<web::Bytes, Self::Error>>> {
        Pin::new(&mut self.get_mut().body).poll_next(context)
    }
}

/// Why a body was given up.
#[derive(Debug, thiserror::Error)]
#[error("the body came too slowly")]
pub struct TooSlow;

/// The body, given up where it pauses too long or comes too slowly; the framework itself would wait for ever.
fn watched(
    payload: Rc<RefCell<Payload>>,
    patience: Duration,
) -> impl Stream<Item = Result<web::Bytes, PayloadError>> {
    let slow = || PayloadError::Io(std::io::Error::new(std::io::ErrorKind::TimedOut, TooSlow));
    let begun = Instant::now();
    stream::unfold(Some((payload, 0_u64)), move |going| async move {
        let (payload, so_far) = going?;
        let next = poll_fn(|context| payload.borrow_mut().poll_next_unpin(context));
        match timeout(patience, next).await {
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
