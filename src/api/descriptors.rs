//! File descriptors: every connection takes one. Systems start programs with few (often 1,024) and let them ask for more.

use nix::sys::resource::{Resource, getrlimit, setrlimit};

/// Descriptors that are kept for files, the database and the listeners.
const KEPT: u64 = 256;

/// Connections of one server, if the system does not say how many descriptors there are.
const USUAL: usize = 25_000;

/// Raises the number of descriptors that the program may open to the most that the system allows.
pub fn raise_limit() {
    let raised = getrlimit(Resource::RLIMIT_NOFILE)
        .and_then(|(_, most)| setrlimit(Resource::RLIMIT_NOFILE, most, most).map(|()| most));
    match raised {
        Ok(most) => tracing::debug!(most, "file descriptors"),
        Err(error) => tracing::warn!(%error, "the limit of file descriptors could not be raised"),
    }
}

/// How many connections each of the workers may hold, so that descriptors are left for the database: then newcomers wait
/// in the system's queue until a connection ends.
pub fn connections_of_each(workers: usize) -> usize {
    let (soft, _) = getrlimit(Resource::RLIMIT_NOFILE).unwrap_or((0, 0));
    let all = usize::try_from(soft.saturating_sub(KEPT)).unwrap_or(USUAL);
    (all / workers.max(1)).clamp(64, USUAL)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limit_is_raised_to_the_most_that_the_system_allows() {
        let (_, most) = getrlimit(Resource::RLIMIT_NOFILE).unwrap();
        setrlimit(Resource::RLIMIT_NOFILE, most / 2, most).unwrap();
        assert_eq!(getrlimit(Resource::RLIMIT_NOFILE).unwrap().0, most / 2, "the control: it was lower");
        let before = connections_of_each(2);
        raise_limit();
        assert_eq!(getrlimit(Resource::RLIMIT_NOFILE).unwrap().0, most);
        assert!(connections_of_each(2) >= before);
    }
}
