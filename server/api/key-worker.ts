import { answerCalls } from '../worker/answer-calls.ts';
import { createKeyWork } from './guessable-key.ts';

answerCalls(createKeyWork);
