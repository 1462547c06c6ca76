//! A PNG of any chunks is refused, or kept in a form that is kept unchanged when it comes again.
#![no_main]

use std::io::Write;

use flate2::Compression;
use flate2::write::ZlibEncoder;
use libfuzzer_sys::fuzz_target;

#[path = "shared/again.rs"]
mod again;

// Chunks as their kind and contents, since a random check sum would hide everything behind it; and lines of gray
// pixels that are packed as they should be, or data that is not.
fuzz_target!(|sent: ([u8; 13], Vec<([u8; 4], Vec<u8>)>, Vec<u8>, Option<(u8, u8)>)| {
    let (mut head, chunks, mut data, size) = sent;
    if let Some((width, height)) = size {
        head = [0, 0, 0, width, 0, 0, 0, height, 8, 0, 0, 0, 0];
        data.resize((usize::from(width) + 1) * usize::from(height), 0);
        let mut packing = ZlibEncoder::new(Vec::new(), Compression::fast());
        packing.write_all(&data).unwrap();
        data = packing.finish().unwrap();
    }
    let mut file = b"\x89PNG\r\n\x1A\n".to_vec();
    let mut put = |kind: &[u8; 4], contents: &[u8]| {
        let named = [kind.as_slice(), contents].concat();
        file.extend(u32::try_from(contents.len()).unwrap().to_be_bytes());
        file.extend(&named);
        file.extend(crc32fast::hash(&named).to_be_bytes());
    };
    put(b"IHDR", &head);
    chunks.iter().for_each(|(kind, contents)| put(kind, contents));
    put(b"IDAT", &data);
    put(b"IEND", b"");
    again::look_twice(&file);
});
