//! Acknowledgements in the order in which the messages came, as MQTT 5 asks (4.6, from memory).

use std::collections::VecDeque;

use rumqttc::v5::mqttbytes::v5::{PubAck, PubAckReason};

/// The messages of one connection that are not acknowledged yet, in the order in which they came.
#[derive(Debug, Default)]
pub struct Acks(VecDeque<(u16, Option<PubAckReason>)>);

impl Acks {
    /// A message came.
    pub fn received(&mut self, packet: u16) {
        self.0.push_back((packet, None));
    }

    /// A message is done with.
    pub fn done(&mut self, packet: u16, reason: PubAckReason) {
        let waiting = self.0.iter_mut().find(|(waiting, done)| *waiting == packet && done.is_none());
        if let Some((_, done)) = waiting {
            *done = Some(reason);
        }
    }

    /// The next acknowledgement that may be sent.
    pub fn next(&mut self) -> Option<PubAck> {
        let (packet, reason) = *self.0.front()?;
        let reason = reason?;
        self.0.pop_front();
        Some(PubAck { reason, ..PubAck::new(packet, None) })
    }

    /// Forgets all of them: the connection is gone.
    pub fn clear(&mut self) {
        self.0.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_that_is_done_waits_for_those_before_it() {
        let mut acks = Acks::default();
        for packet in [7, 8, 9] {
            acks.received(packet);
        }
        acks.done(8, PubAckReason::PayloadFormatInvalid);
        acks.done(5, PubAckReason::Success);
        assert_eq!(acks.next(), None);
        acks.done(7, PubAckReason::Success);
        let sent: Vec<_> = std::iter::from_fn(|| acks.next()).map(|ack| (ack.pkid, ack.reason)).collect();
        assert_eq!(sent, [(7, PubAckReason::Success), (8, PubAckReason::PayloadFormatInvalid)]);
        acks.clear();
        acks.done(9, PubAckReason::Success);
        assert_eq!(acks.next(), None);
    }
}
