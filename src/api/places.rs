//! Places: how many requests are worked on at the same time, of all callers, of one address and of one token. Without
//! shares, one caller whose bodies come slowly would take every place.

use std::collections::HashMap;
use std::hash::Hash;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use crate::rules::ids::TokenId;

/// How many requests of each key are under way, and how many may be.
struct Counts<K> {
    most: usize,
    under_way: Mutex<HashMap<K, usize>>,
}

/// One request among those of its key, until it is dropped.
struct Share<K: Eq + Hash + Copy> {
    counts: Arc<Counts<K>>,
    key: K,
}

impl<K: Eq + Hash + Copy> Counts<K> {
    fn of(most: usize) -> Arc<Self> {
        Arc::new(Self { most: most.max(1), under_way: Mutex::default() })
    }

    /// None where as many are under way as may be.
    fn take(self: &Arc<Self>, key: K) -> Option<Share<K>> {
        let mut under_way = self.under_way.lock().unwrap_or_else(PoisonError::into_inner);
        let count = under_way.entry(key).or_insert(0);
        if *count >= self.most {
            return None;
        }
        *count += 1;
        Some(Share { counts: Arc::clone(self), key })
    }
}

impl<K: Eq + Hash + Copy> Drop for Share<K> {
    fn drop(&mut self) {
        let mut under_way = self.counts.under_way.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = under_way.get_mut(&self.key) {
            *count -= 1;
            if *count == 0 {
                under_way.remove(&self.key);
            }
        }
    }
}

/// The places of one service.
pub(super) struct Places {
    all: Arc<Counts<()>>,
    of_address: Arc<Counts<Option<IpAddr>>>,
    of_token: Arc<Counts<TokenId>>,
}

/// Why there is no place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Full {
    /// The service has as much to do as it can.
    House,
    /// The address has its share under way.
    Address,
}

/// A place among the requests under way, until the last who holds it is done: the request, and a write that outlives
/// its caller.
pub struct Place {
    _of_all: Share<()>,
    _of_address: Share<Option<IpAddr>>,
    of_token: OnceLock<Share<TokenId>>,
}

impl Places {
    /// An address may take half of the places, a token a quarter.
    pub(super) fn of(most: usize) -> Self {
        Self {
            all: Counts::of(most),
            of_address: Counts::of(most.div_euclid(2)),
            of_token: Counts::of(most.div_euclid(4)),
        }
    }

    pub(super) fn take(&self, address: Option<IpAddr>) -> Result<Place, Full> {
        Ok(Place {
            _of_all: self.all.take(()).ok_or(Full::House)?,
            _of_address: self.of_address.take(address).ok_or(Full::Address)?,
            of_token: OnceLock::new(),
        })
    }

    /// Counts the place among those of the token, too.
    /// # Errors
    /// How many requests of the token may be under way, where that many are.
    pub(super) fn belongs_to(&self, place: &Place, token: TokenId) -> Result<(), usize> {
        if place.of_token.get().is_none() {
            let share = self.of_token.take(token).ok_or(self.of_token.most)?;
            let _other = place.of_token.set(share);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;

    fn address(end: u8) -> Option<IpAddr> {
        Some(IpAddr::from([192, 0, 2, end]))
    }

    #[test]
    fn an_address_takes_half_of_the_places_and_all_addresses_together_all_of_them() {
        let places = Places::of(8);
        let mut held: Vec<_> = (0..4).map(|_| places.take(address(1)).unwrap()).collect();
        assert_eq!(places.take(address(1)).err(), Some(Full::Address));
        held.extend((2..6).map(|other| places.take(address(other)).unwrap()));
        assert_eq!(places.take(address(9)).err(), Some(Full::House));
        drop(held);
        assert!(places.take(address(1)).is_ok(), "the control: they are given back");
        assert!(places.of_address.under_way.lock().unwrap().is_empty(), "and nothing is kept of who asked");
    }

    #[test]
    fn a_token_takes_a_quarter_wherever_it_comes_from() {
        let places = Places::of(8);
        let token = |number| TokenId(Uuid::from_u128(number));
        let held: Vec<_> = (1..=3).map(|from| places.take(address(from)).unwrap()).collect();
        assert_eq!(places.belongs_to(&held[0], token(1)), Ok(()));
        assert_eq!(places.belongs_to(&held[0], token(1)), Ok(()), "once is enough");
        assert_eq!(places.belongs_to(&held[1], token(1)), Ok(()));
        assert_eq!(places.belongs_to(&held[2], token(1)), Err(2));
        assert_eq!(places.belongs_to(&held[2], token(2)), Ok(()), "another token has a share of its own");
        drop(held);
        let again = places.take(address(1)).unwrap();
        assert_eq!(places.belongs_to(&again, token(1)), Ok(()));
    }
}
