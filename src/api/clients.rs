//! The client's address: that of the connection, or, behind a proxy that is trusted, the one that the proxy names.
//!
//! Anybody can send `Forwarded` (RFC 7239) or `X-Forwarded-For`, so they count only from addresses that whoever runs the
//! service has named, and only from their right end: each trusted proxy appends the address that it saw itself, and
//! whatever stands to the left of the first address that is not a trusted proxy may be invented.

use std::net::{IpAddr, Ipv6Addr, SocketAddr};

use actix_web::http::header::{FORWARDED, HeaderMap, HeaderName};
use ipnet::IpNet;

static X_FORWARDED_FOR: HeaderName = HeaderName::from_static("x-forwarded-for");

/// Networks whose members are believed what they say of their clients.
#[derive(Clone, Debug, Default)]
pub struct TrustedProxies(Vec<IpNet>);

impl FromIterator<IpNet> for TrustedProxies {
    fn from_iter<I: IntoIterator<Item = IpNet>>(networks: I) -> Self {
        Self(networks.into_iter().collect())
    }
}

/// Reads a network as `10.0.0.0/8`, or one address.
/// # Errors
/// What was given and what is accepted.
pub fn network(text: &str) -> Result<IpNet, String> {
    let address = || text.parse::<IpAddr>().map(|address| IpNet::from(address.to_canonical()));
    text.parse::<IpNet>()
        .or_else(|_| address())
        .ok()
        .ok_or_else(|| format!("{text:?} is not an address such as 10.0.0.7 or a network such as 10.0.0.0/8"))
}

impl TrustedProxies {
    fn trusts(&self, address: IpAddr) -> bool {
        self.0.iter().any(|network| network.contains(&address))
    }

    /// Whom limits by address count: the client's IPv4 address, or the first 64 bits of its IPv6 address, since one
    /// subscriber has all the addresses below them.
    pub fn client_of(&self, peer: Option<SocketAddr>, headers: &HeaderMap) -> Option<IpAddr> {
        let peer = peer?.ip().to_canonical();
        if !self.trusts(peer) {
            return Some(counted(peer));
        }
        let forwarded = chain_in(headers, &FORWARDED, forwarded_nodes);
        let x_forwarded = chain_in(headers, &X_FORWARDED_FOR, |line| line.split(',').map(node).collect());
        let client = match (forwarded.as_slice(), x_forwarded.as_slice()) {
            ([], []) => peer,
            (chain, []) | ([], chain) => self.last_untrusted(peer, chain),
            // A proxy writes one of the two and passes the other on as it came: it may be the client's invention.
            (one, other) => {
                let (one, other) = (self.last_untrusted(peer, one), self.last_untrusted(peer, other));
                if one == other { one } else { peer }
            }
        };
        Some(counted(client))
    }

    /// Goes from the connection's end to the left as long as the proxies are trusted and say whom they saw.
    fn last_untrusted(&self, peer: IpAddr, chain: &[Option<IpAddr>]) -> IpAddr {
        let mut nearest = peer;
        for step in chain.iter().rev() {
            let Some(address) = step else { break };
            nearest = *address;
            if !self.trusts(nearest) {
                break;
            }
        }
        nearest
    }
}

fn counted(address: IpAddr) -> IpAddr {
    match address {
        IpAddr::V4(_) => address,
        IpAddr::V6(long) => {
            let network = u128::from(long) & !u128::from(u64::MAX);
            IpAddr::V6(Ipv6Addr::from(network))
        }
    }
}

/// The nodes of all lines of a header in their order; None where a node hides its address or cannot be read.
fn chain_in(
    headers: &HeaderMap,
    name: &HeaderName,
    nodes: impl Fn(&str) -> Vec<Option<IpAddr>>,
) -> Vec<Option<IpAddr>> {
    headers.get_all(name).flat_map(|line| line.to_str().map_or_else(|_| vec![None], &nodes)).collect()
}

/// The `for` of each element (RFC 7239, section 4).
fn forwarded_nodes(line: &str) -> Vec<Option<IpAddr>> {
    let element = |element: &str| {
        let pairs = split_outside_quotes(element, ';');
        pairs.into_iter().find_map(|pair| {
            let (name, value) = pair.split_once('=')?;
            let value = value.trim();
            let plain = value.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')).unwrap_or(value);
            name.trim().eq_ignore_ascii_case("for").then(|| node(plain))?
        })
    };
    split_outside_quotes(line, ',').into_iter().map(element).collect()
}

fn split_outside_quotes(text: &str, at: char) -> Vec<&str> {
    let mut quoted = false;
    text.split(|sign: char| {
        quoted ^= sign == '"';
        sign == at && !quoted
    })
    .collect()
}

/// An address with or without its port (RFC 7239, section 6); None for `unknown` and for names made up to hide one.
fn node(text: &str) -> Option<IpAddr> {
    let text = text.trim();
    let bracketed = || text.strip_prefix('[')?.strip_suffix(']')?.parse::<Ipv6Addr>().ok().map(IpAddr::V6);
    let with_port = || text.parse::<SocketAddr>().ok().map(|address| address.ip());
    let found = text.parse::<IpAddr>().ok().or_else(bracketed).or_else(with_port)?;
    Some(found.to_canonical())
}

#[cfg(test)]
mod tests {
    use actix_web::http::header::HeaderValue;

    use super::*;

    fn client(trusted: &[&str], peer: &str, headers: &[(&'static str, &str)]) -> String {
        let proxies: TrustedProxies = trusted.iter().map(|one| network(one).unwrap()).collect();
        let mut sent = HeaderMap::new();
        for (name, value) in headers {
            sent.append(HeaderName::from_static(name), HeaderValue::from_str(value).unwrap());
        }
        let peer = SocketAddr::new(peer.parse().unwrap(), 4711);
        proxies.client_of(Some(peer), &sent).unwrap().to_string()
    }

    const NEAR: &[&str] = &["127.0.0.1", "10.0.0.0/8"];

    #[test]
    fn only_a_trusted_peer_is_believed() {
        let says = [("x-forwarded-for", "203.0.113.7")];
        assert_eq!(client(&[], "127.0.0.1", &says), "127.0.0.1");
        assert_eq!(client(NEAR, "198.51.100.1", &says), "198.51.100.1");
        assert_eq!(client(NEAR, "127.0.0.1", &says), "203.0.113.7");
        assert_eq!(client(NEAR, "::ffff:127.0.0.1", &says), "203.0.113.7", "IPv4 in IPv6 is IPv4");
        assert_eq!(client(NEAR, "127.0.0.1", &[]), "127.0.0.1");
    }

    #[test]
    fn a_list_is_read_from_its_right_end_up_to_the_first_that_is_not_trusted() {
        let invented = [("x-forwarded-for", "1.1.1.1, 203.0.113.7, 10.1.2.3")];
        assert_eq!(client(NEAR, "127.0.0.1", &invented), "203.0.113.7");
        let lines = [("x-forwarded-for", "1.1.1.1, 203.0.113.7"), ("x-forwarded-for", "10.1.2.3")];
        assert_eq!(client(NEAR, "127.0.0.1", &lines), "203.0.113.7", "several lines are one list");
        let all_trusted = [("x-forwarded-for", "10.9.9.9, 10.1.2.3")];
        assert_eq!(client(NEAR, "127.0.0.1", &all_trusted), "10.9.9.9");
    }

    /// The examples of RFC 7239, sections 4 and 6 (from memory).
    #[test]
    fn forwarded_is_read_as_the_rfc_writes_it() {
        for (header, wanted) in [
            ("for=192.0.2.60;proto=http;by=203.0.113.43", "192.0.2.60"),
            ("For=\"[2001:db8:cafe::17]:4711\"", "2001:db8:cafe::"),
            ("for=192.0.2.43, for=198.51.100.17", "198.51.100.17"),
            ("for=\"192.0.2.43:47011\"", "192.0.2.43"),
            ("host=\"a,b;for=1.1.1.1\";for=192.0.2.9", "192.0.2.9"),
            ("for=192.0.2.43, for=\"_gazonk\"", "127.0.0.1"),
            ("for=unknown", "127.0.0.1"),
            ("proto=https", "127.0.0.1"),
            ("for=192.0.2.43, nonsense", "127.0.0.1"),
        ] {
            assert_eq!(client(NEAR, "127.0.0.1", &[("forwarded", header)]), wanted, "{header}");
        }
    }

    #[test]
    fn two_headers_that_disagree_leave_the_proxy_as_the_client() {
        let both = |one| [("forwarded", one), ("x-forwarded-for", "203.0.113.7")];
        assert_eq!(client(NEAR, "127.0.0.1", &both("for=203.0.113.7")), "203.0.113.7");
        assert_eq!(client(NEAR, "127.0.0.1", &both("for=1.1.1.1")), "127.0.0.1");
    }

    #[test]
    fn addresses_of_one_subscriber_count_as_one() {
        let same = |end| client(NEAR, "127.0.0.1", &[("x-forwarded-for", end)]);
        assert_eq!(same("2001:db8:1:2::1"), same("2001:db8:1:2:ffff::9"));
        assert_ne!(same("2001:db8:1:2::1"), same("2001:db8:1:3::1"));
    }

    #[test]
    fn a_network_that_is_none_says_what_is_accepted() {
        assert!(network("10.0.0.0/33").unwrap_err().contains("10.0.0.0/8"));
        assert!(network("proxy").unwrap_err().contains("is not an address"));
        assert_eq!(network("10.0.0.7").unwrap().to_string(), "10.0.0.7/32");
    }
}
