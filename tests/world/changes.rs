//! Changes of labels by somebody at the public door, and reads that know a version.

use serde_json::Value;

use super::{AGENT, Caller, Reply, reply};

impl Caller {
    /// A read by somebody who has a version already.
    pub fn get_unless(&self, path: &str, tag: &str) -> Reply {
        let request = AGENT.get(format!("{}{path}", self.address)).header("If-None-Match", tag);
        let request = request.header("Authorization", format!("Bearer {}", self.token));
        reply("get", path, request.call().unwrap())
    }

    /// A change by somebody who has seen the version with that tag.
    pub fn patch(&self, path: &str, tag: &str, body: &Value) -> Reply {
        self.patch_text(path, &body.to_string(), &[("If-Match", tag)])
    }

    pub fn patch_text(&self, path: &str, body: &str, headers: &[(&str, &str)]) -> Reply {
        let mut request = AGENT
            .patch(format!("{}{path}", self.address))
            .header("Authorization", format!("Bearer {}", self.token));
        if !headers.iter().any(|(name, _)| *name == "Content-Type") {
            request = request.header("Content-Type", "application/merge-patch+json");
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        reply("patch", path, request.send(body).unwrap())
    }

    /// A change of what stands now that succeeds.
    pub fn changes(&self, path: &str, body: Value) -> Value {
        let read = self.get(path);
        let tag = read.header("etag").unwrap_or_else(|| panic!("GET {path} has no ETag: {}", read.text));
        let reply = self.patch(path, tag, &body);
        assert_eq!(reply.status, 200, "PATCH {path} {body}: {}", reply.text);
        reply.json()
    }
}
