//! What entries and events are known by, wherever and however often they are read.

use sha2::{Digest, Sha256};

/// A UUID of version 8 (RFC 9562 section 5.8) made of a kind of thing and its names: the same names, the same UUID.
///
/// Names are as long as their owners like and hold any characters; clients cut and compare ids, which a UUID stands.
pub fn uuid(kind: &str, names: &[&str]) -> String {
    let mut hash = Sha256::new();
    for part in [kind].iter().chain(names) {
        // The length first, so that no two lists of names run into the same text.
        hash.update((part.len() as u64).to_be_bytes());
        hash.update(part);
    }
    let mut digest = hash.finalize();
    digest[6] = digest[6] & 0x0f | 0x80;
    digest[8] = digest[8] & 0x3f | 0x80;
    [0..4, 4..6, 6..8, 8..10, 10..16].map(|part| hex::encode(&digest[part])).join("-")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_uuid_of_version_8_that_differs_with_kind_and_names() {
        let one = uuid("window", &["home", "heap", "mulch"]);
        assert_eq!(one, uuid("window", &["home", "heap", "mulch"]));
        let others = [
            uuid("turn", &["home", "heap", "mulch"]),
            uuid("window", &["home", "heapm", "ulch"]),
            uuid("window", &["home", "heap", "potting"]),
            uuid("window", &["home", "heap"]),
        ];
        assert!(!others.contains(&one));
        // RFC 9562 sections 4.1 and 4.2: the variant's two bits and the version's four.
        let digits: Vec<char> = one.chars().collect();
        assert_eq!((one.len(), digits[14]), (36, '8'));
        assert!("89ab".contains(digits[19]), "{one}");
    }
}
