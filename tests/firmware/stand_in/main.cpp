// Runs a sketch over scripted packs: each argument is WORD:ADC, the converter's word in hex and the ADC's reading; one
// that begins with "<" comes down the line instead, and the next four seconds are run through. On standard error goes
// when the buzzer's pin was turned, in milliseconds, and how.
#include "SPI.h"
#include <cassert>

unsigned long now_ms = 0xFFFFF800UL;  // the count of milliseconds wraps after 49 days; this run crosses it
int adc_reading = 0;
Port Serial;
Bus SPI;
static uint32_t word = 0;
static int taken = 0;
static bool selected = false;

void setup();
void loop();

static const int BUZZER = 9;
static unsigned long began_ms = 0;

void digitalWrite(int pin, int level) {
  if (pin == BUZZER) {
    std::fprintf(stderr, "%lu %d\n", now_ms - began_ms, level);
    return;
  }
  assert(pin == 10);
  selected = level == LOW;
  taken = 0;
}

uint8_t Bus::transfer(uint8_t) {
  assert(selected && taken < 4);
  return word >> (8 * (3 - taken++)) & 0xFF;
}

int main(int count, char **arguments) {
  setup();
  assert(Serial.baud == 115200);
  for (int i = 1; i < count; i++) {
    if (arguments[i][0] == '<') {
      Serial.heard += std::string(arguments[i] + 1) + "\n";
      began_ms = now_ms;
      for (int step = 0; step < 400; step++, now_ms += 10) loop();
      assert(Serial.heard.empty());
      continue;
    }
    assert(std::sscanf(arguments[i], "%x:%d", &word, &adc_reading) == 2);
    loop();
    loop();  // called again too early, it says nothing
    now_ms += 1000;
  }
  return 0;
}
