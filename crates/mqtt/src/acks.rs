//! Acknowledgements in the order in which the messages came, as MQTT 5 asks (4.6, from memory).

use std::collections::VecDeque;

use rumqttc::v5::mqttbytes::QoS;
use rumqttc::v5::mqttbytes::v5::{PubAck, PubAckReason, Publish};
use rumqttc::v5::{AsyncClient, Request};

/// How an acknowledgement is handed to the client. What is handed over by the second way overtakes what went by the first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    /// Through its queue, which knows no reasons.
    Queue,
    /// Into its list of what is to be sent again, which takes it a millisecond each.
    List,
}

impl Way {
    /// The way for a reason.
    fn of(reason: PubAckReason) -> Self {
        if reason == PubAckReason::Success { Self::Queue } else { Self::List }
    }
}

/// The messages of one connection that are in hand, in the order in which they came.
#[derive(Debug)]
pub struct Acks {
    client: AsyncClient,
    waiting: VecDeque<(u16, Option<PubAckReason>)>,
    /// Acknowledgements that the client has and did not send yet, all of them handed over by `way`.
    unsent: usize,
    way: Way,
    /// Most of them; the client's queue has room for as many.
    most_unsent: usize,
}

impl Acks {
    /// None yet; they will be handed to `client`, whose queue has this much room.
    pub fn new(client: AsyncClient, room: usize) -> Self {
        Self { client, waiting: VecDeque::new(), unsent: 0, way: Way::Queue, most_unsent: room }
    }

    /// How many messages are in hand.
    pub fn in_hand(&self) -> usize {
        self.waiting.len()
    }

    /// How many acknowledgements the client is yet to send.
    pub fn unsent(&self) -> usize {
        self.unsent
    }

    /// A message came.
    pub fn received(&mut self, packet: u16) {
        self.waiting.push_back((packet, None));
    }

    /// A message is done with.
    pub fn done(&mut self, packet: u16, reason: PubAckReason) {
        let waiting = self.waiting.iter_mut().find(|(waiting, done)| *waiting == packet && done.is_none());
        if let Some((_, done)) = waiting {
            *done = Some(reason);
        }
    }

    /// The client sent one.
    pub fn sent(&mut self) {
        self.unsent = self.unsent.saturating_sub(1);
    }

    /// Hands those over that may be sent now; `list` is the client's.
    pub fn hand_over(&mut self, list: &mut VecDeque<Request>) {
        while let Some(ack) = self.next() {
            self.way = Way::of(ack.reason);
            match self.way {
                Way::Queue => {
                    let message = Publish { pkid: ack.pkid, qos: QoS::AtLeastOnce, ..Publish::default() };
                    if self.client.try_ack(&message).is_err() {
                        tracing::error!("the MQTT client takes no acknowledgement");
                    }
                }
                Way::List => list.push_back(Request::PubAck(ack)),
            }
            self.unsent += 1;
        }
    }

    /// The next that may be handed over.
    fn next(&mut self) -> Option<PubAck> {
        let (packet, reason) = *self.waiting.front()?;
        let reason = reason?;
        if self.unsent >= self.most_unsent || self.unsent > 0 && Way::of(reason) != self.way {
            return None;
        }
        self.waiting.pop_front();
        Some(PubAck { reason, ..PubAck::new(packet, None) })
    }

    /// Forgets all of them: the connection is gone.
    pub fn clear(&mut self) {
        self.waiting.clear();
        self.unsent = 0;
    }
}

#[cfg(test)]
mod tests {
    use rumqttc::v5::MqttOptions;

    use super::*;

    #[test]
    fn one_that_is_done_waits_for_those_before_it() {
        let (client, _events) = AsyncClient::new(MqttOptions::new("c", "localhost", 1883), 2);
        let (mut acks, mut list) = (Acks::new(client, 2), VecDeque::new());
        for packet in [6, 7, 8, 9] {
            acks.received(packet);
        }
        acks.done(8, PubAckReason::PayloadFormatInvalid);
        acks.done(5, PubAckReason::Success);
        acks.hand_over(&mut list);
        assert_eq!((acks.in_hand(), acks.unsent()), (4, 0), "none before the first");
        acks.done(7, PubAckReason::Success);
        acks.done(6, PubAckReason::Success);
        acks.hand_over(&mut list);
        assert_eq!((acks.in_hand(), acks.unsent(), list.len()), (2, 2, 0), "those of one way");
        acks.sent();
        acks.hand_over(&mut list);
        assert_eq!((acks.in_hand(), acks.unsent(), list.len()), (2, 1, 0), "the other way waits");
        acks.sent();
        acks.hand_over(&mut list);
        let refused = PubAck { reason: PubAckReason::PayloadFormatInvalid, ..PubAck::new(8, None) };
        assert_eq!((acks.in_hand(), acks.unsent(), list), (1, 1, [Request::PubAck(refused)].into()));
        acks.clear();
        assert_eq!((acks.in_hand(), acks.unsent()), (0, 0));
    }
}
