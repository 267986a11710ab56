"""Carry one message by a channel whose addresses we keep: a person's browser, a practice's gateway.

The look into the store is over before anything is sent.
"""

from __future__ import annotations

from companion.delivery.base import DeliveryError, Message
from companion.delivery.outgoing import Outgoing
from companion.delivery.push import Browser, PushSender, send_push
from companion.delivery.webhook import Gateway, send_webhook
from companion.store.engine import Store
from companion.store.queries import channels


def carry_to_browser(store: Store, sender: PushSender, limits: Outgoing, message: Message) -> str:
    """Push a message whose address is the id of a subscription. Raises DeliveryError."""
    with store.reading() as session:
        row = channels.subscription(session, message.address)
        browser = Browser(row.endpoint, row.p256dh, row.auth, row.says_more) if row else None
    if browser is None:
        raise DeliveryError("this browser takes no pushes any more", permanent=True)
    return send_push(sender, browser, message, limits)


def carry_to_gateway(store: Store, limits: Outgoing, message: Message) -> str:
    """Hand a message to a practice's gateway, for the phone in its address. Raises DeliveryError."""
    webhook_id, phone = channels.read_webhook_address(message.address)
    with store.reading() as session:
        row = channels.webhook(session, webhook_id)
        gateway = Gateway(row.url, row.secret) if row else None
    if gateway is None:
        raise DeliveryError("the practice has no such gateway any more", permanent=True)
    return send_webhook(gateway, message, phone, limits)
