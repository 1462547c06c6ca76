//! A WebP of any content is refused, or kept in a form that is kept unchanged when it comes again.
#![no_main]

use libfuzzer_sys::fuzz_target;

#[path = "shared/again.rs"]
mod again;

fuzz_target!(|rest: &[u8]| {
    let length = u32::try_from(rest.len() + 4).unwrap().to_le_bytes();
    again::look_twice(&[b"RIFF".as_slice(), &length, b"WEBP", rest].concat());
});
