# What differs from rig.py, for this board alone. Save a copy on the board as settings.py, without what fits already.
# The names, and what they are without this file, stand at the top of rig.py.

RIG = "cooker"
# (channel, converter chip, pin of its chip select)
THERMOCOUPLES = (("paste", "MAX31855", 5), ("wall", "MAX31855", 17))
# None where there is no pH amplifier.
PH_PIN = None

# Only for Wi-Fi. Without these the packs go down the cable.
WIFI_NAME = "kitchen"
WIFI_PASSWORD = "change this"
BROKER = "broker.home.arpa"
BROKER_USER = "cooker"
BROKER_PASSWORD = "change this too"

# Only for TLS: the authority's certificate, saved on the board in DER.
BROKER_PORT = 8883
BROKER_CA = "authority.der"
