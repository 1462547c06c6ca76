//! What goes to the log.

use tracing_subscriber::EnvFilter;

/// The filter for what `LEDGERBOARD_LOG` says; warnings and errors where it says nothing that can be read.
///
/// The HTTP library reports as an error what a stranger can cause with a few bytes (a request that is not HTTP, a
/// connection that breaks off): nobody can do anything about it, and it would bury what somebody has to. It is left out
/// unless the library is named.
pub(super) fn filter(asked: Option<&str>) -> EnvFilter {
    let asked = asked.unwrap_or("warn");
    let filter = EnvFilter::try_new(asked).unwrap_or_else(|_| EnvFilter::new("warn"));
    if asked.contains("actix_http") {
        return filter;
    }
    match "actix_http::h1=off".parse() {
        Ok(directive) => filter.add_directive(directive),
        Err(_) => filter,
    }
}

#[cfg(test)]
mod tests {
    use std::io::Write;
    use std::sync::{Arc, Mutex};

    use super::*;

    #[derive(Clone, Default)]
    struct Lines(Arc<Mutex<Vec<u8>>>);

    impl Write for Lines {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().write(bytes)
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    fn logged(asked: Option<&str>) -> String {
        let lines = Lines::default();
        let writer = lines.clone();
        let log = tracing_subscriber::fmt()
            .with_env_filter(filter(asked))
            .with_writer(move || writer.clone())
            .finish();
        tracing::subscriber::with_default(log, || {
            tracing::error!(target: "actix_http::h1::dispatcher", "stream error: request parse error");
            tracing::error!(target: "ledgerboard::api::door", "a fault of ours");
        });
        String::from_utf8(lines.0.lock().unwrap().clone()).unwrap()
    }

    #[test]
    fn a_strangers_malformed_request_is_no_error_in_the_log_and_our_own_faults_are() {
        for asked in [None, Some("warn"), Some("debug"), Some("info,ledgerboard=debug"), Some("=nonsense=")] {
            let logged = logged(asked);
            assert!(
                logged.contains("a fault of ours") && !logged.contains("stream error"),
                "{asked:?}: {logged}"
            );
        }
        assert!(logged(Some("warn,actix_http=debug")).contains("stream error"), "the control: it can be had");
    }
}
