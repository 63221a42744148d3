// One thermocouple with a MAX31855 and one pH amplifier, sent once a second as a SenML line with CRC at 115200 baud.
// README.md in the parent folder describes the format. A buzzer sounds the notices received on the same line.

#include <SPI.h>

const int SELECT_PIN = 10;
const int PH_PIN = A0;
const float ADC_FULL_V = 5.0;
const long ADC_STEPS = 1023;
// The amplifier's output at pH 7 in V, and its gain; both are in its data sheet.
const float PH_MIDDLE_V = 2.5;
const float PH_GAIN = 3.0;
const unsigned long PERIOD_MS = 1000;
// An active buzzer, through a transistor where it takes more current than a pin may give; -1 for none.
const int BUZZER_PIN = -1;

unsigned long seq = 0;
uint32_t due = 0;
uint16_t crc = 0xFFFF;
char heard[64];
uint8_t heardLength = 0;
uint8_t turns = 0;
uint32_t turnAt = 0;
unsigned long turnMs = 0;

// CRC-16/IBM-3740, updated while the line is sent, so that no buffer is needed.
void send(const char *text) {
  for (const char *c = text; *c; c++) {
    crc ^= (uint16_t)((uint8_t)*c) << 8;
    for (int i = 0; i < 8; i++) crc = crc & 0x8000 ? (crc << 1) ^ 0x1021 : crc << 1;
  }
  Serial.print(text);
}

void sendNumber(const char *name, const char *unit, float value, int digits) {
  char number[24];
  // AVR boards have no %f.
  dtostrf(value, 1, digits, number);
  send("{\"n\":\"");
  send(name);
  send("\",\"u\":\"");
  send(unit);
  send("\",\"v\":");
  send(number);
  send("},");
}

void sendFault(const char *name, const char *unit, const char *words) {
  send("{\"n\":\"");
  send(name);
  send("\",\"u\":\"");
  send(unit);
  send("\",\"vs\":\"");
  send(words);
  send("\"},");
}

uint32_t readWord() {
  uint32_t word = 0;
  SPI.beginTransaction(SPISettings(1000000, MSBFIRST, SPI_MODE0));
  digitalWrite(SELECT_PIN, LOW);
  for (int i = 0; i < 4; i++) word = word << 8 | SPI.transfer(0);
  digitalWrite(SELECT_PIN, HIGH);
  SPI.endTransaction();
  return word;
}

void sendThermocouple() {
  uint32_t word = readWord();
  if (word == 0 || word == 0xFFFFFFFF) {
    sendFault("paste", "Cel", "converter does not answer");
    return;
  }
  if (word & 7) {
    sendFault("paste", "Cel", word & 1 ? "open circuit" : word & 2 ? "short to ground" : "short to supply");
  } else {
    // The right shift of a signed number keeps its sign.
    sendNumber("paste", "Cel", ((int32_t)word >> 18) * 0.25, 2);
  }
  sendNumber("paste/cold", "Cel", (int16_t)(word & 0xFFF0) / 256.0, 4);
}

void sendPh() {
  long total = 0;
  for (int i = 0; i < 32; i++) total += analogRead(PH_PIN);
  float share = total / 32.0 / ADC_STEPS;
  if (share < 0.01 || share > 0.99) {
    sendFault("ph", "V", "amplifier at its limit: is the probe plugged in?");
  } else {
    sendNumber("ph", "V", (share * ADC_FULL_V - PH_MIDDLE_V) / PH_GAIN, 5);
  }
}

// Begins the pattern for a notice: 2 short tones for a stir, 3 for a check, 1 for a test, 3 long ones for a fault.
void ring(const char *line) {
  if (!strstr(line, "\"notice\":\"")) return;
  bool stir = strstr(line, ":\"stir due\""), check = strstr(line, ":\"check due\""), test = strstr(line, ":\"test\"");
  turns = stir ? 4 : test ? 2 : 6;
  turnMs = stir || check || test ? 150 : 600;
  turnAt = millis();
}

// Reads what has arrived and turns the buzzer on or off when that is due, without waiting.
void listen() {
  while (Serial.available()) {
    char c = Serial.read();
    if (c != '\n') {
      if (heardLength < sizeof heard - 1) heard[heardLength++] = c;
      continue;
    }
    heard[heardLength] = 0;
    heardLength = 0;
    ring(heard);
  }
  if (!turns || (int32_t)((uint32_t)millis() - turnAt) < 0) return;
  turns--;
  digitalWrite(BUZZER_PIN, turns % 2 ? HIGH : LOW);
  turnAt = millis() + turnMs;
}

void setup() {
  Serial.begin(115200);
  pinMode(SELECT_PIN, OUTPUT);
  digitalWrite(SELECT_PIN, HIGH);
  SPI.begin();
  if (BUZZER_PIN >= 0) pinMode(BUZZER_PIN, OUTPUT);
  due = millis();
}

void loop() {
  if (BUZZER_PIN >= 0) listen();
  // Compared as a difference, which stays right when the counter overflows after 49 days.
  if ((int32_t)((uint32_t)millis() - due) < 0) return;
  due += PERIOD_MS;
  char count[16];
  crc = 0xFFFF;
  send("[");
  sendThermocouple();
  sendPh();
  ultoa(seq++, count, 10);
  send("{\"n\":\"seq\",\"u\":\"count\",\"v\":");
  send(count);
  send("}]");
  char end[8];
  sprintf(end, "*%04X", (unsigned)crc);
  Serial.println(end);
}
