//! Signatures after Standard Webhooks 1.0.0, section "Signature scheme": HMAC-SHA256 of `id.timestamp.body`.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;

/// What a secret begins with; the rest is the key in Base64.
const PREFIX: &str = "whsec_";

/// The value of the header `webhook-signature`: one signature for each secret, with spaces between them. A secret that
/// cannot be read signs nothing.
pub fn signatures(secrets: &[String], id: &str, timestamp: i64, body: &str) -> String {
    let signed = secrets.iter().filter_map(|secret| signature(secret, id, timestamp, body));
    signed.collect::<Vec<_>>().join(" ")
}

fn signature(secret: &str, id: &str, timestamp: i64, body: &str) -> Option<String> {
    let key = STANDARD.decode(secret.strip_prefix(PREFIX)?).ok()?;
    let mut mac = Hmac::<Sha256>::new_from_slice(&key).ok()?;
    mac.update(format!("{id}.{timestamp}.{body}").as_bytes());
    Some(format!("v1,{}", STANDARD.encode(mac.finalize().into_bytes())))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example that the Standard Webhooks project's own libraries are tested with ("sign function works", read as quoted
    /// in eight repositories that check against it, all alike).
    const SECRET: &str = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";
    const SIGNATURE: &str = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=";

    fn signed(secrets: &[&str]) -> String {
        let secrets: Vec<_> = secrets.iter().map(|secret| (*secret).to_owned()).collect();
        signatures(&secrets, "msg_p5jXN8AQM9LWM0D4loKWxJek", 1_614_265_330, r#"{"test": 2432232314}"#)
    }

    #[test]
    fn the_published_example_is_signed_as_published() {
        assert_eq!(signed(&[SECRET]), SIGNATURE);
    }

    #[test]
    fn each_secret_signs_the_newest_first() {
        let newer = "whsec_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";
        let both = signed(&[newer, SECRET]);
        assert_eq!(both, format!("{} {SIGNATURE}", signed(&[newer])));
        assert_eq!(signed(&[]), "");
        assert_eq!(signed(&["MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "whsec_%"]), "");
    }
}
