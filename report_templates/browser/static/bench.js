// The bench with a script: what is typed is sent at once, or waits in this device and is sent once the way is open again.
import { start } from "./waiting.js";
import { tick } from "./clock.js";

start();
tick();
