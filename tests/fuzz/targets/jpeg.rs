//! A JPEG of any content is refused, or kept in a form that is kept unchanged when it comes again.
#![no_main]

use libfuzzer_sys::fuzz_target;

#[path = "shared/again.rs"]
mod again;

fuzz_target!(|rest: &[u8]| {
    again::look_twice(&[b"\xFF\xD8\xFF".as_slice(), rest].concat());
});
