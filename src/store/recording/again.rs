//! A transaction that lost against another one is run again: a few times, after a short pause of chance length so
//! that the two do not meet again, and not for longer than a person waits.

use std::time::{Duration, Instant};

use super::super::error::StoreError;

/// How often a transaction is run, the first time included.
const TRIES: u32 = 5;

/// How long after the first time it may be run again.
const BUDGET: Duration = Duration::from_secs(2);

/// The longest pause after the first time; each further one may be twice as long.
const PAUSE_MICROSECONDS: u32 = 20_000;

/// Runs `work`, and again where what went wrong was that it lost against another transaction.
/// # Errors
/// What the last run could not do.
pub(in crate::store) async fn again_if_lost<T, E>(
    store_error: impl Fn(&E) -> Option<&StoreError>,
    work: impl AsyncFn() -> Result<T, E>,
) -> Result<T, E> {
    let begun = Instant::now();
    let mut tries = 1;
    let mut longest = PAUSE_MICROSECONDS;
    loop {
        let failed = match work().await {
            Ok(done) => return Ok(done),
            Err(failed) => failed,
        };
        let lost = store_error(&failed).is_some_and(StoreError::is_transient);
        let pause = pause_up_to(longest);
        if !lost || tries >= TRIES || begun.elapsed() + pause > BUDGET {
            return Err(failed);
        }
        tokio::time::sleep(pause).await;
        tries += 1;
        longest = longest.saturating_mul(2);
    }
}

/// Without chance to be had it is the longest pause.
fn pause_up_to(longest: u32) -> Duration {
    let microseconds = getrandom::u32().map_or(longest, |chance| chance % (longest + 1));
    Duration::from_micros(u64::from(microseconds))
}
