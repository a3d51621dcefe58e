//! The connection to the broker: made again whenever it breaks, and told what is done with.

use std::collections::VecDeque;
use std::sync::Arc;
use std::time::Duration;

use baycast_service::Now;
use rumqttc::Outgoing;
use rumqttc::v5::mqttbytes::v5::{Packet, Subscribe, SubscribeReasonCode};
use rumqttc::v5::{AsyncClient, ConnectionError, Event, EventLoop, Request};
use tokio::sync::{mpsc, watch};
use tokio::time::Instant;

use crate::acks::Acks;
use crate::backoff::Backoff;
use crate::job::{Done, Job};
use crate::lanes::Lanes;
use crate::recorder::Recorder;

/// The first wait before connecting again, and the longest.
const WAITS: (Duration, Duration) = (Duration::from_millis(250), Duration::from_secs(30));

/// How long the broker may take to hear that we go.
const GOODBYE: Duration = Duration::from_secs(2);

/// The one task that speaks with the broker. It alone hands acknowledgements over, for the connection that it knows to be
/// open, so that none ever reaches another connection than that of its message.
pub struct Connection {
    events: EventLoop,
    subscribe: Subscribe,
    recorder: Arc<Recorder>,
    lanes: Lanes,
    dones: mpsc::UnboundedReceiver<Done>,
    now: Now,
    stop: watch::Receiver<bool>,
    acks: Acks,
    /// Messages beyond those that may be in hand. Some brokers send more than they were asked to.
    held: VecDeque<Job>,
    /// Most messages in hand.
    room: usize,
    /// Which connection this is, counted from 1.
    number: u64,
    /// Since when it is open.
    open_since: Option<Instant>,
    backoff: Backoff,
    /// Why there is none, as it was told last; told again once there was one.
    told: Option<String>,
}

impl Connection {
    /// A connection that is yet to be made.
    pub fn new(
        (client, events): (AsyncClient, EventLoop),
        subscribe: Subscribe,
        recorder: Arc<Recorder>,
        room: usize,
        now: Now,
        stop: watch::Receiver<bool>,
    ) -> Self {
        let (lanes, dones) = Lanes::start(&recorder, room);
        Self {
            events,
            subscribe,
            recorder,
            lanes,
            dones,
            now,
            stop,
            acks: Acks::new(client, room),
            held: VecDeque::new(),
            room,
            number: 1,
            open_since: None,
            backoff: Backoff::new(WAITS.0, WAITS.1),
            told: None,
        }
    }

    /// Takes messages until told to stop; then finishes those in hand.
    pub async fn run(mut self) {
        let mut stop = self.stop.clone();
        tokio::select! {
            () = self.take() => {}
            _ = stop.wait_for(|stop| *stop) => {}
        }
        self.finish().await;
    }

    /// Takes messages for good. May be dropped at any point where it waits.
    async fn take(&mut self) {
        loop {
            // Whatever happened last may have made room: also an acknowledgement that was sent, behind which others waited.
            self.release().await;
            let open = self.open_since.is_some();
            // Where a broker floods us nothing more is read, until there is something to be told to it.
            let flooded = self.held.len() >= self.room && self.acks.unsent() == 0;
            // A poll that is given up loses nothing: what was read waits in the client, and a packet that was begun waits in
            // the buffer behind the socket. That has room for all acknowledgements handed over at once, so that beginning one
            // never waits.
            tokio::select! {
                Some(done) = self.dones.recv(), if open => self.done(done),
                event = self.events.poll(), if !flooded => match event {
                    Ok(event) => self.heed(event),
                    Err(error) => self.reconnect(&error).await,
                },
            }
        }
    }

    /// Acts upon what the broker says.
    fn heed(&mut self, event: Event) {
        match event {
            Event::Incoming(Packet::ConnAck(answer)) => {
                self.open_since = Some(Instant::now());
                self.told = None;
                tracing::info!(session_kept = answer.session_present, "connected to the MQTT broker");
                if answer.session_present {
                    self.recorder.sent_again(self.number);
                }
                self.events.pending.push_back(Request::Subscribe(self.subscribe.clone()));
            }
            Event::Incoming(Packet::SubAck(answer)) => {
                for (filter, code) in self.subscribe.filters.iter().zip(&answer.return_codes) {
                    let filter = &filter.path;
                    if let SubscribeReasonCode::Success(_) = code {
                        tracing::info!(filter, "subscribed");
                    } else {
                        tracing::error!(filter, ?code, "the MQTT broker refuses a subscription");
                    }
                }
            }
            Event::Incoming(Packet::Publish(message)) => {
                self.held.push_back(Job::new(self.number, &message, (self.now)()));
            }
            Event::Outgoing(Outgoing::PubAck(_)) => self.sent(),
            Event::Incoming(_) | Event::Outgoing(_) => {}
        }
    }

    /// Hands messages on, as many as may be in hand.
    async fn release(&mut self) {
        while self.acks.in_hand() < self.room
            && let Some(job) = self.held.pop_front()
        {
            if job.packet != 0 {
                self.acks.received(job.packet);
            }
            self.lanes.put(job).await;
        }
    }

    /// A message is done with. One of an earlier connection is acknowledged when it is sent again.
    fn done(&mut self, done: Done) {
        if done.connection == self.number && done.packet != 0 {
            self.acks.done(done.packet, done.reason);
            self.acks.hand_over(&mut self.events.pending);
        }
    }

    /// The client sent an acknowledgement.
    fn sent(&mut self) {
        self.acks.sent();
        self.acks.hand_over(&mut self.events.pending);
    }

    /// The connection broke or did not come about: waits a while, longer each time unless it had held.
    async fn reconnect(&mut self, error: &ConnectionError) {
        // What was read before it broke goes on: a broker that forgot the session does not send it again.
        while let Some(event) = self.events.state.events.pop_front() {
            if let Event::Incoming(Packet::Publish(message)) = event {
                self.held.push_back(Job::new(self.number, &message, (self.now)()));
            }
        }
        while let Some(job) = self.held.pop_front() {
            self.lanes.put(job).await;
        }
        self.events.pending.clear();
        self.acks.clear();
        self.number += 1;
        if self.open_since.take().is_some_and(|since| since.elapsed() > WAITS.1) {
            self.backoff.reset();
        }
        let wait = self.backoff.step();
        let (why, retry_in_s) = (Some(error.to_string()), wait.as_secs_f64());
        if self.told != why {
            tracing::warn!(%error, retry_in_s, "no connection to the MQTT broker");
            self.told = why;
        }
        tokio::time::sleep(wait).await;
    }

    /// Finishes what is in hand, acknowledges it and says goodbye. What comes meanwhile stays with the broker.
    async fn finish(mut self) {
        self.lanes = Lanes::none();
        loop {
            tokio::select! {
                done = self.dones.recv() => match done {
                    Some(done) if self.open_since.is_some() => self.done(done),
                    Some(_) => {}
                    None => break,
                },
                event = self.events.poll(), if self.open_since.is_some() => self.heed_last(&event),
            }
        }
        let goodbye = async {
            while self.open_since.is_some() && self.acks.unsent() > 0 {
                let event = self.events.poll().await;
                self.heed_last(&event);
            }
            if self.open_since.is_some() {
                self.events.pending.push_back(Request::Disconnect);
                while !matches!(self.events.poll().await, Ok(Event::Outgoing(Outgoing::Disconnect)) | Err(_))
                {
                }
            }
        };
        if tokio::time::timeout(GOODBYE, goodbye).await.is_err() {
            tracing::warn!("the MQTT broker did not hear that we go");
        }
        self.recorder.tally().log();
    }

    /// Acts upon what still matters once no message is taken any more.
    fn heed_last(&mut self, event: &Result<Event, ConnectionError>) {
        match event {
            Ok(Event::Outgoing(Outgoing::PubAck(_))) => self.sent(),
            Ok(_) => {}
            Err(_) => self.open_since = None,
        }
    }
}

#[cfg(test)]
mod tests {
    use baycast_service::{Caller, Limits, Service};
    use jiff::Timestamp;
    use rumqttc::v5::MqttOptions;
    use rumqttc::v5::mqttbytes::QoS;
    use rumqttc::v5::mqttbytes::v5::{Filter, PubAckReason};
    use tokio::io::{AsyncReadExt, AsyncWriteExt};
    use tokio::net::{TcpListener, TcpStream};
    use tokio::time::timeout;

    use super::*;
    use crate::Mappings;

    const ROOM: usize = 2;

    /// How long an acknowledgement with a reason waits: longer than it takes to be done with the messages behind it.
    const THROTTLE: Duration = Duration::from_millis(300);

    /// How long a message may take to be handed on.
    const PATIENCE: Duration = Duration::from_secs(20);

    /// A broker that sends all of these messages at once, whatever it was asked for.
    async fn flood(listener: TcpListener, packets: std::ops::RangeInclusive<u8>) -> TcpStream {
        let (mut stream, _) = listener.accept().await.unwrap();
        let mut connect = [0; 256];
        assert!(stream.read(&mut connect).await.unwrap() > 0);
        let mut sent = vec![0x20, 3, 0, 0, 0];
        for packet in packets {
            // QoS 1, topic "t", no properties, no payload.
            sent.extend([0x32, 6, 0, 1, b't', 0, packet, 0]);
        }
        stream.write_all(&sent).await.unwrap();
        stream
    }

    #[tokio::test]
    async fn acknowledgements_that_waited_for_another_make_room_when_they_go() {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let port = listener.local_addr().unwrap().port();
        let broker = tokio::spawn(flood(listener, 1..=7));

        let mut options = MqttOptions::new("c", "127.0.0.1", port);
        options.set_clean_start(false).set_manual_acks(true).set_pending_throttle(THROTTLE);
        let service = Service::new(Limits::default(), Arc::new(|| jiff::civil::date(2026, 4, 30)));
        let (stop, stopped) = watch::channel(false);
        let subscription = r#"{ "topic": "t", "farm": "home", "batch": "heap", "payload": "number" }"#;
        let mappings = Mappings::new(vec![serde_json::from_str(subscription).unwrap()]).unwrap();
        let recorder = Recorder::new(service, Caller::of_the_store(), "c", mappings, stopped.clone());
        let client = AsyncClient::new(options, ROOM);
        let subscribe = Subscribe::new(Filter::new("t", QoS::AtLeastOnce), None);
        let mut connection =
            Connection::new(client, subscribe, Arc::new(recorder), ROOM, Arc::new(Timestamp::now), stopped);
        // Lanes of the test's own, which says when a message is done with.
        let (lanes, mut jobs) = Lanes::one(ROOM);
        let (done, dones) = mpsc::unbounded_channel();
        (connection.lanes, connection.dones) = (lanes, dones);
        let running = tokio::spawn(connection.run());

        for expected in 1..=7 {
            let job = timeout(PATIENCE, jobs.recv()).await;
            assert_eq!(job.expect("it is handed on").map(|job| job.packet), Some(expected));
            // The first can't be used: the others' acknowledgements wait for its own.
            let reason =
                if expected == 1 { PubAckReason::PayloadFormatInvalid } else { PubAckReason::Success };
            done.send(Done { connection: 1, packet: expected, reason }).unwrap();
        }
        drop(done);
        stop.send(true).unwrap();
        running.await.unwrap();
        let mut told = Vec::new();
        broker.await.unwrap().read_to_end(&mut told).await.unwrap();
        let acks: Vec<u8> = (2..=7).flat_map(|packet| [0x40, 2, 0, packet]).collect();
        assert!(told.windows(acks.len()).any(|window| window == acks), "{told:x?}");
    }
}
