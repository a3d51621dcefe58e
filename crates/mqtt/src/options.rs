//! The settings in the client's words.

use std::sync::Arc;
use std::time::Duration;

use rumqttc::v5::MqttOptions;
use rumqttc::v5::mqttbytes::QoS;
use rumqttc::v5::mqttbytes::v5::{ConnectProperties, Filter, RetainForwardRule, Subscribe};
use rumqttc::{TlsConfiguration, Transport};
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls::{ClientConfig, RootCertStore};

use crate::settings::{Security, Settings};

/// After how long a silence each side is asked whether it is still there.
const KEEP_ALIVE: Duration = Duration::from_secs(30);

/// How long a connection may take to come about, s.
const CONNECT_S: u64 = 10;

/// Longest message that the broker is to send, bytes. It drops longer ones itself.
const LONGEST_BYTES: u32 = 64 * 1024;

/// How to connect.
pub fn options(settings: &Settings) -> Result<MqttOptions, String> {
    let broker = &settings.broker;
    let mut options = MqttOptions::new(&settings.client_id, &broker.host, broker.port);
    let mut properties = ConnectProperties::new();
    properties.session_expiry_interval = Some(settings.session_expiry_s);
    properties.receive_maximum = Some(settings.receive_maximum);
    properties.max_packet_size = Some(LONGEST_BYTES);
    options.set_connect_properties(properties);
    options.set_clean_start(false).set_manual_acks(true);
    options.set_keep_alive(KEEP_ALIVE).set_connection_timeout(CONNECT_S);
    if let Some(own) = &settings.credentials {
        options.set_credentials(&own.user_name, &own.password);
    }
    if broker.security == Security::Tls {
        let config = Arc::new(tls(settings.authorities.as_deref())?);
        options.set_transport(Transport::tls_with_config(TlsConfiguration::Rustls(config)));
    }
    Ok(options)
}

/// What is subscribed to. Messages that a broker retained are not asked for: nobody knows how old they are.
pub fn subscribe(settings: &Settings) -> Subscribe {
    let filters = settings.filters().into_iter().map(|filter| {
        let mut filter = Filter::new(filter, QoS::AtLeastOnce);
        filter.retain_forward_rule = RetainForwardRule::Never;
        filter
    });
    Subscribe::new_many(filters, None)
}

/// TLS towards brokers for whom one of the authorities vouches.
fn tls(authorities: Option<&[u8]>) -> Result<ClientConfig, String> {
    let mut roots = RootCertStore::empty();
    match authorities {
        Some(pem) => {
            for certificate in CertificateDer::pem_slice_iter(pem) {
                let certificate = certificate.map_err(|error| format!("no certificate in PEM: {error}"))?;
                roots.add(certificate).map_err(|error| error.to_string())?;
            }
        }
        None => {
            roots.add_parsable_certificates(rustls_native_certs::load_native_certs().certs);
        }
    }
    if roots.is_empty() {
        return Err("there is no certificate of anyone who may vouch for the broker".to_owned());
    }
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions();
    let config = config.map_err(|error| error.to_string())?;
    Ok(config.with_root_certificates(roots).with_no_client_auth())
}
